"""Writing down what was called about an item at its position, and saying so."""

from __future__ import annotations

from dataclasses import replace

from voicecheck.checklist.resolved import Grade, Item
from voicecheck.engine import questions, second_call
from voicecheck.engine.item_call import ItemCall
from voicecheck.engine.reopening import DOUBTED_ONCE, reopen
from voicecheck.engine.standing import NOTHING
from voicecheck.engine.state import CalledAgain, ItemCalled, Outcome, Record, Result
from voicecheck.engine.told import found_before
from voicecheck.engine.turn import Turn


def counted_here(turn: Turn, call: ItemCall) -> bool:
    """Whether the same reading stands already, called in this visit."""
    standing = turn.this_visit(call.item.id)
    return standing is not None and standing.counted and standing.key == call.reading.key


def changes_bad_to_good(turn: Turn, call: ItemCall) -> bool:
    """Good news after bad is the costliest thing to mishear."""
    doubtful = not call.bad and found_before(turn, call.item.id) is not None
    return doubtful and not call.affirmed and not second_call.by_other(turn, call)


def confirm_change(turn: Turn, call: ItemCall) -> None:
    """Nothing changes before a yes."""
    found = found_before(turn, call.item.id)
    assert found is not None
    questions.pose(turn, (call.said,), call.said.words)
    turn.insist("confirm-change", earlier=found.called, now=call.said.words)


def repeated(turn: Turn, call: ItemCall) -> None:
    """The same call once more: nothing new to record, but the crew hears that it stands."""
    item, words = call.item, call.said.words
    if call.bad:
        # A finding called twice was called once more than "correction" takes back.
        standing = turn.this_visit(item.id)
        assert standing is not None
        second_call.drop(turn, item)
        turn.set(last=CalledAgain(item.id, standing.called))
    else:
        turn.set(last=ItemCalled(item.id, words, turn.state.before.get(item.id, NOTHING)))
    if turn.state.dark_asked == item.id:
        turn.warn("which-dark", words=words)
    else:
        turn.say("ack", words=turn.read_back(call.said))


def good(turn: Turn, call: ItemCall) -> None:
    """The reading stands as good, and is read back."""
    item, old = call.item, turn.record(call.item.id)
    forget_dark(turn, item)
    result = turn.result_of(call.said, Outcome.SATISFACTORY)
    turn.put(item, replace(result, read_back=second_call.taken(turn, item)))
    turn.set(before={**turn.state.before, item.id: old})
    turn.say("ack", words=turn.read_back(call.said))
    turn.set(last=ItemCalled(item.id, call.said.words, old))


def bad(turn: Turn, call: ItemCall) -> None:
    """The reading stands as a finding; after a short count the dark lamp is asked for."""
    item, reading, old = call.item, call.reading, turn.record(call.item.id)
    second_call.drop(turn, item)
    forget_dark(turn, item)
    # A second bad call in one visit makes the first exact; it is not a finding of its own.
    again = turn.text("called-again") if turn.bad_here(item.id) else None
    result = turn.result_of(call.said, Outcome.UNSATISFACTORY, reason=reading.finding)
    turn.put(item, replace(result, dark=reading.lamps), instead=again)
    if reading.grade is Grade.SHORT and item.darks:
        turn.set(dark_asked=item.id)
        turn.warn("which-dark", words=call.said.words)
    else:
        speak(turn, item, call.said.words)
    turn.set(last=ItemCalled(item.id, call.said.words, old))


def name_dark(turn: Turn, call: ItemCall) -> None:
    """One lamp of a group is named dark, as an answer to our question or unasked."""
    item, words, old = call.item, call.said.words, turn.record(call.item.id)
    second_call.drop(turn, item)
    before = turn.this_visit(item.id)
    lamps, called, again = call.reading.lamps, words, None
    if before is not None and turn.bad_here(item.id):
        lamps = tuple(dict.fromkeys((*before.dark, *lamps)))
        called = before.called if words in before.called else turn.list((before.called, words))
        again = turn.text("dark-named")
    result = turn.result_of(
        call.said, Outcome.UNSATISFACTORY, reason=turn.text("finding-dark", lamps=turn.list(lamps))
    )
    turn.put(item, replace(result, dark=lamps, called=called), instead=again)
    forget_dark(turn, item)
    turn.set(last=ItemCalled(item.id, words, old))
    speak(turn, item, words)


def forget_dark(turn: Turn, item: Item) -> None:
    """The dark lamp of this item is not asked for any more."""
    if turn.state.dark_asked == item.id:
        turn.set(dark_asked=None)


def speak(turn: Turn, item: Item, words: str) -> None:
    """Speak a finding in the words that were heard, and the caution text that goes with it."""
    turn.warn("finding", words=words, expected=item.expected)
    if item.caution:
        turn.warn("caution", text=item.caution)


def withdraw(turn: Turn, item_id: str, previous: Record, why: str) -> None:
    """Take the last call about an item back; the call itself stays in the past.

    What stood before stands again, but for a good call before a bad one: that one was in doubt
    once, so the item is open and must be called again.
    """
    record, stands = turn.record(item_id), previous.now
    taken, before = record.now, None if stands is None else stands.outcome
    if taken is None and before in (None, Outcome.SATISFACTORY):
        return  # it was doubted away, and before it there was nothing that may stand again
    turn.restore(item_id, Record(stands, _without(record.past, stands)))
    if taken is not None:
        if taken.outcome is not before:
            reopen(turn, turn.checklist.item(item_id), DOUBTED_ONCE, call=taken.called)
        left, back = turn.record(item_id), replace(taken, withdrawn=why)
        turn.restore(item_id, Record(left.now, (*left.past, back)))
        turn.note("withdrawn", item=item_id, called=taken.called, reason=why)
    turn.set(before={item: old for item, old in turn.state.before.items() if item != item_id})


def _without(past: tuple[Result, ...], stands: Result | None) -> tuple[Result, ...]:
    """The past without what stands again; refusals since then stay in it."""
    same = [n for n, result in enumerate(past) if stands and result.call == stands.call]
    return (*past[: same[-1]], *past[same[-1] + 1 :]) if same else past
