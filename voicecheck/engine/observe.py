"""Recording what the crew called about an item of the current position."""

from __future__ import annotations

from dataclasses import replace

from voicecheck.checklist.resolved import Grade, Item, Position, Reading
from voicecheck.engine import power, read_back, whereabouts
from voicecheck.engine.state import (
    Ask,
    Claim,
    LastAct,
    Outcome,
    Question,
    Record,
    Result,
)
from voicecheck.engine.turn import Turn


def observe(turn: Turn, item: Item, reading: Reading, said: Claim, *, affirmed: bool) -> None:
    """A reading of an item. affirmed: the crew has already said yes to this very claim."""
    drop_question(turn)
    bad = reading.grade is not Grade.GOOD
    if not allowed_here(turn, item, said, bad=bad):
        if bad:
            read_back.drop(turn, item)
        return
    standing = turn.this_visit(item.id)
    if standing is not None and standing.counted:
        doubt = standing.outcome is Outcome.UNSATISFACTORY and not bad
        if doubt and not affirmed and not read_back.by_other(turn, item, reading, said):
            # Good news after bad in one visit is the costliest thing to mishear.
            turn.set(question=Question(Ask.CLAIMS, (said,)))
            turn.set(last=LastAct("question", "", said.words))
            turn.ask("confirm-change", earlier=standing.called, now=said.words)
            return
        if standing.key == reading.key:
            if bad:
                # A finding called twice was called once more than "correction" takes back.
                read_back.drop(turn, item)
                turn.set(last=LastAct("repeat", item.id, standing.called))
            else:
                old = turn.state.before.get(item.id, Record())
                turn.set(last=LastAct("item", item.id, said.words, old))
            repeat_ack(turn, item, said)
            return
    if item.read_back and turn.state.second and not read_back.agreed(turn, item, reading, said):
        return
    settle(turn, item, reading, said)


def repeat_ack(turn: Turn, item: Item, said: Claim) -> None:
    """The same call once more: nothing new to record, but the crew hears that it stands."""
    if turn.state.dark_asked == item.id:
        turn.warn("which-dark", words=said.words)
    else:
        turn.say("ack", words=said.words)


def allowed_here(turn: Turn, item: Item, said: Claim, *, bad: bool) -> bool:
    """The same as `allowed`, for what can only be seen while the selector is at the item."""
    if whereabouts.unknown_at(turn, said.start):
        whereabouts.refuse(turn, item, said, bad=bad)
        return False
    return allowed(turn, item, said, bad=bad)


def allowed(turn: Turn, item: Item, said: Claim, *, bad: bool) -> bool:
    """Whether a call about this item counts now; if not, says why and records the attempt.

    bad: the call was bad news. It makes no finding then, but an earlier good is void.
    """
    position = turn.checklist.position(item.position)
    missing = power.lacking(turn, power.needs(position, item))
    if missing:
        refuse_for_power(turn, item, said, missing, bad=bad)
        return False
    for needed in item.after:
        before = turn.this_visit(needed)
        if before is None or before.outcome is not Outcome.SATISFACTORY:
            first = turn.item(needed).expected
            reason = f"needs {first} first"
            turn.note("refused", item=item.id, called=said.words, reason=reason)
            if bad:
                _doubt(turn, item, said, reason)
            turn.say("first", needed=first)
            return False
    return True


def _doubt(turn: Turn, item: Item, said: Claim, reason: str) -> None:
    """Bad news that does not count: nothing good may stand on what was called before it."""
    record = turn.record(item.id)
    if record.now is not None and record.now.outcome is Outcome.SATISFACTORY:
        turn.put(item, result_of(turn, said, Outcome.VOID, reason=reason))
        turn.set(last=LastAct("item", item.id, said.words, record))


def refuse_for_power(
    turn: Turn, item: Item, said: Claim, missing: dict[str, str], *, bad: bool = False
) -> None:
    """A call under wrong or unknown power does not count; it is kept as void."""
    known = power.standing(turn)
    wanted = power.spoken_needs(turn, missing)
    unknown = [bus for bus in missing if bus not in known]
    reason = f"needs {wanted}" + ("; power not called" if unknown else "; power was wrong")
    void = result_of(turn, said, Outcome.VOID, reason=reason)
    record = turn.record(item.id)
    if record.now is None or not record.now.counted:
        turn.put(item, void)
        turn.set(last=LastAct("item", item.id, said.words, record))
    elif bad and record.now.outcome is Outcome.SATISFACTORY:
        _doubt(turn, item, said, reason)
    else:
        turn.restore(item.id, replace(record, past=(*record.past, void)))
        turn.note("refused", item=item.id, called=said.words, reason=reason)
    question = turn.state.question
    turn.warn("not-counted", needs=wanted)
    if question is not None and question.ask is Ask.CLAIMS:
        power.ask(turn)


def settle(turn: Turn, item: Item, reading: Reading, said: Claim) -> None:
    """Let the reading stand, read it back, and ask for the dark lamp after a short count."""
    old = turn.record(item.id)
    again = _again(turn, item)
    if turn.state.dark_asked == item.id:
        turn.set(dark_asked=None)
    if reading.grade is Grade.GOOD:
        result = result_of(turn, said, Outcome.SATISFACTORY)
        turn.put(item, replace(result, read_back=read_back.taken(turn, item)))
        turn.set(before={**turn.state.before, item.id: old})
        turn.say("ack", words=said.words)
    else:
        result = result_of(turn, said, Outcome.UNSATISFACTORY, reason=reading.finding)
        turn.put(item, replace(result, dark=reading.lamps), instead=again)
        if reading.grade is Grade.SHORT and item.darks:
            turn.set(dark_asked=item.id)
            turn.warn("which-dark", words=said.words)
        else:
            say_finding(turn, item, said.words)
    turn.set(last=LastAct("item", item.id, said.words, old))


def _again(turn: Turn, item: Item) -> str | None:
    """A second bad call in one visit makes the first exact; it is not a finding of its own."""
    before = turn.this_visit(item.id)
    if before is not None and before.outcome is Outcome.UNSATISFACTORY:
        return "called again"
    return None


def name_dark(turn: Turn, item: Item, reading: Reading, said: Claim) -> None:
    """One lamp of a group is named dark, as an answer to our question or unasked."""
    drop_question(turn)
    read_back.drop(turn, item)
    if not allowed_here(turn, item, said, bad=True):
        return
    old = turn.record(item.id)
    before = turn.this_visit(item.id)
    lamps: tuple[str, ...] = reading.lamps
    called = said.words
    if before is not None and before.outcome is Outcome.UNSATISFACTORY:
        lamps = tuple(dict.fromkeys((*before.dark, *reading.lamps)))
        called = before.called if said.words in before.called else f"{before.called}, {called}"
    what = f"{', '.join(lamps)} dark"
    result = result_of(turn, said, Outcome.UNSATISFACTORY, reason=what)
    again = "the dark lamp was named" if _again(turn, item) else None
    turn.put(item, replace(result, dark=lamps, called=called, key=reading.key), instead=again)
    if turn.state.dark_asked == item.id:
        turn.set(dark_asked=None)
    turn.set(last=LastAct("item", item.id, said.words, old))
    say_finding(turn, item, said.words)


def after_call(turn: Turn) -> None:
    """When nothing is left to call here, say so and propose the next position, once."""
    position = turn.position
    if position is None or turn.state.question is not None or turn.state.dark_asked is not None:
        return
    if outstanding(turn, position):
        return
    ahead = next_position(turn)
    timed = [item for item in position.items if item.window is not None]
    if timed and any(not _counted(turn, item) and not blocked(turn, item) for item in timed):
        calls = ", ".join(item.readings[0].phrases[0] for item in timed)
        turn.say("position-done-timed", position=position.name, calls=calls)
    elif ahead is None and turn.state.windows:
        return  # the lamp that still runs comes first
    elif ahead is None:
        turn.say("position-done-last", position=position.name)
    else:
        turn.say("position-done", position=position.name, next=ahead.select[0])


def outstanding(turn: Turn, position: Position) -> list[Item]:
    """Items of the position that still want a call while the selector is there."""
    again = {
        needed
        for item in position.items
        if item.window is not None and not _counted(turn, item)
        for needed in item.after
        if turn.this_visit(needed) is None
    }
    return [
        item
        for item in position.items
        if item.window is None
        and (item.id in again or not _counted(turn, item))
        and not blocked(turn, item)
    ]


def _counted(turn: Turn, item: Item) -> bool:
    now = turn.result(item.id)
    return now is not None and now.counted


def blocked(turn: Turn, item: Item) -> bool:
    """Whether an earlier stage failed, so that this one cannot be tested at all."""
    for needed in item.after:
        before = turn.result(needed)
        if before is not None and before.outcome is Outcome.UNSATISFACTORY:
            return True
        if blocked(turn, turn.item(needed)):
            return True
    return False


def open_items(turn: Turn, position: Position) -> list[Item]:
    """Everything in the position that has no counted result, timed items included."""
    return [item for item in position.items if not _counted(turn, item) and not blocked(turn, item)]


def next_position(turn: Turn) -> Position | None:
    """The first position after the current one, either way round, that has something to call.

    From off, or from nowhere, it is the first in order. A position whose lamp still runs is not
    proposed for that: to go back would spoil its timing.
    """
    positions = turn.checklist.positions[:-1]
    ids = [position.id for position in positions]
    running = {window.item for window in turn.state.windows}
    here, step = -1, 1
    if turn.state.position in ids:
        here = ids.index(turn.state.position)
        came = [ids.index(visited) for visited in turn.state.visited if visited in ids]
        step = -1 if came[0] > came[-1] else 1
    for offset in range(1, len(positions) + 1):
        candidate = positions[(here + step * offset) % len(positions)]
        if candidate.id == turn.state.position:
            continue
        if any(item.id not in running for item in open_items(turn, candidate)):
            return candidate
    rest = turn.checklist.positions[-1]
    return rest if turn.state.position != rest.id else None


def withdraw(turn: Turn, item_id: str, previous: Record, why: str) -> None:
    """Take the last call about an item back; the call itself stays in the past.

    What stood before stands again, but for a good call before a bad one: that one was in doubt
    once, so the item is open and must be called again.
    """
    record = turn.record(item_id)
    taken, stands, past = record.now, previous.now, list(record.past)
    before = None if stands is None else stands.outcome
    if taken is None and before in (None, Outcome.SATISFACTORY):
        return  # it was doubted away, and before it there was nothing that may stand again
    if before is Outcome.SATISFACTORY and taken is not None and taken.outcome is not before:
        stands = None
    if stands is not None:
        # It leaves the past; refusals since then stay there.
        starts = [index for index, r in enumerate(past) if r.start == stands.start]
        if starts:
            del past[starts[-1]]
    if taken is not None:
        past.append(replace(taken, withdrawn=why))
    turn.restore(item_id, Record(stands, tuple(past)))
    turn.set(before={item: old for item, old in turn.state.before.items() if item != item_id})
    if taken is not None:
        turn.note("withdrawn", item=item_id, called=taken.called, reason=why)


def drop_question(turn: Turn) -> None:
    """Another callout came instead of a yes: claims about items lapse.

    Those about power stay open, and so do those about where the selector is.
    """
    question = turn.state.question
    if question is None:
        return
    if question.ask is Ask.CLAIMS:
        kept = tuple(
            claim
            for claim in question.claims
            if claim.callout.startswith("power:") or whereabouts.is_place(turn, claim)
        )
        turn.set(question=Question(Ask.CLAIMS, kept) if kept else None)
    else:
        turn.set(question=None)


def result_of(turn: Turn, said: Claim, outcome: Outcome, *, reason: str | None = None) -> Result:
    """A result with the words, times and power under which it was called."""
    return Result(
        outcome=outcome,
        key=said.callout,
        called=said.words,
        start=said.start,
        end=said.end,
        visit=turn.state.visit,
        reason=reason,
        power=power.standing(turn),
    )


def say_finding(turn: Turn, item: Item, words: str) -> None:
    """Speak a finding in the words that were heard, and the caution text that goes with it."""
    turn.warn("finding", words=words, expected=item.expected)
    if item.caution:
        turn.warn("caution", text=item.caution)
