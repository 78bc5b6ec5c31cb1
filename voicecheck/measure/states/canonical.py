"""When are two engine states the same for every decision still to come?

The canonical form keeps what a later decision can look at and drops the rest:

kept        phase; position; of each item
            what stands (nothing that counts, good, or bad with the kind of call, and whether
            it is of the present visit); buses; open question; dark lamp asked for; half of a
            read-back; what "correction" would take back and what it would bring back; results
            called after a bus that is still unconfirmed; windows with their age and with what
            words that were not understood do to them; positions that were half understood.
dropped     *Histories, words, times of results, logs, counts*: the engine writes them and, but
            for finding the entry that a withdrawal brings back, never reads them.
            *last_said*: read by "say again" alone, which changes nothing.
            *visited*: read only to propose the next position in a prompt.
            *Silence, reminders, unclear in a row, battery time*: each is a counter or a clock
            of its own that gates one prompt and changes no result; moves.py drives each of
            them to its end from every state, so every value meets every event.
            *Why it is held*: a part that comes back resumes as the crew's callout does; kept is
            whether it is a gap by now, and what would be known after it.
            *Lost parts*: read only to ignore a second loss; moves.py always begins with a part
            that is there.
folded      A void or not-tested result is as none: decisions ask whether a result counts.
            A bus that is in a state that no item needs is as unknown: decisions ask whether the
            needed state stands.
            Readings of one item and one grade are alike up to their names: decisions ask for
            the grade and whether a call is the same as before.
            The age of a window falls into one of the ranges that the limits of its verdict cut
            (moves.py samples each range, and time can reach every later range from any).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from voicecheck.engine.actions import SetPower
from voicecheck.engine.context import GAP
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import (
    Affirmed,
    ChangedNothing,
    Claim,
    Differed,
    ItemCalled,
    LastAct,
    Outcome,
    PowerCalled,
    Question,
    Record,
    Result,
    SessionState,
)
from voicecheck.engine.told import open_finding
from voicecheck.engine.told import told as told_of
from voicecheck.measure.states.moves import A_YES
from voicecheck.oracle.plan import Key, Plan
from voicecheck.oracle.witness import NOTHING, Act, Known, Told, Word
from voicecheck.oracle.witnessing import PATIENCE, SOUNDS


def canonical(plan: Plan, state: SessionState) -> Key:
    """The canonical form of an engine state, hashable."""
    if state.phase is Phase.FINISHED:
        return (state.phase.value, state.complete)
    question, last, half = state.question, state.last, state.first_call
    buses = {bus: known for bus, known in state.power.items() if known is not None}
    return (
        state.phase.value,
        state.position,
        state.second,
        state.channels,
        tuple(_result(plan, state.records.get(i, _NONE).now, state.visit) for i in plan.items),
        _found(plan, state),
        state.airframe,
        plan.buses(buses),
        _question(plan, state, question) if question else None,
        state.dark_asked,
        (half.item, half.said.channel) if half else None,
        tuple(_before(plan, state, item) for item in plan.items),
        _act(plan, state, last) if last else None,
        tuple(
            (
                w.item,
                plan.age(w.item, state.now - w.anchor),
                w.asked,
                plan.doubtful(w.item, w.anchor, w.left_from, w.called_from),
            )
            for w in state.windows
        ),
        state.missed_from is None,
        tuple((maybe.callout, *_later(state, maybe)) for maybe in state.maybe_at),
        state.place_lost,
        _hold(state),
    )


def _hold(state: SessionState) -> Key:
    """Whether the hold is a gap by now, and what of the buses would outlive it."""
    called = ((bus, at) for bus, _, at in state.power_log if state.power[bus] is not None)
    asked = [claim.start for claim in state.power_claims]
    return _held(state.held_from, state.cut, state.now, called, asked)


def _held(
    since: float | None,
    cut: bool,
    now: float,
    called: Iterable[tuple[str, float]],
    asked: Iterable[float],
) -> Key:
    if since is None:
        return ()
    fresh = max(since, now - GAP)
    known = sorted({bus for bus, at in called if at >= fresh})
    return cut or now - since > GAP, tuple(start >= fresh for start in asked), *known


def _question(plan: Plan, state: SessionState, question: Question) -> Key:
    """What is asked, and whether the next yes would come too soon, in time or too late."""
    claims = tuple(_claim(plan, state, claim) for claim in question.claims)
    running = bool(state.windows)
    return question.ask.value, claims, _timely(running, state.now - question.asked_at, len(claims))


def _timely(running: bool, since: float, asked: int) -> int:
    waited = since + (1 / 128 if running else A_YES)
    least = SOUNDS * max(1, asked)
    return (waited >= least) + (waited > least + PATIENCE)


def _act(plan: Plan, state: SessionState, last: LastAct) -> Key:
    """The last act, as far as taking it back depends on it."""
    kind = type(last).__name__
    match last:
        case ItemCalled(item, _, before):
            return kind, item, _back(plan, state, before), _visits(state, before)
        case PowerCalled(bus):
            return kind, bus, None
        case Affirmed(acts):
            return kind, "", tuple(_act(plan, state, act) for act in acts)
        case Differed():
            return ChangedNothing.__name__, "", None  # it only withdraws from the past
        case _:
            return kind, getattr(last, "item", ""), None


def _later(state: SessionState, maybe: Claim) -> Iterator[bool]:
    """For each claim in question, how a half-understood position came after or before it."""
    for claim in state.question.claims if state.question else ():
        if not isinstance(claim.action, SetPower):
            yield maybe.start > claim.start
            yield maybe.start < claim.start


_NONE: Final = Record()


def _found(plan: Plan, state: SessionState) -> Key:
    return tuple(_told_of(state, item) for item in plan.items)


def _told_of(state: SessionState, item: str) -> Key:
    return _visits(state, state.records.get(item, _NONE))


def _visits(state: SessionState, record: Record) -> Key:
    """What was found of an item, in this visit and before: at all, and not bettered in its own.

    Last whether any of it is open, and since when: good news would want a yes.
    """
    found, last = told_of(record), open_finding(record)
    here = {f.result.visit == state.visit for f in found}
    unbettered = {f.result.visit == state.visit for f in found if not f.bettered}
    return (*sorted(here), None, *sorted(unbettered), last and last.visit == state.visit)


def _result(plan: Plan, result: Result | None, visit: int) -> str | None:
    if result is None or not result.counted:
        return None
    here = "" if result.visit == visit else " earlier"
    if result.outcome is Outcome.SATISFACTORY:
        return "good" + here
    # After the visit only the outcome is looked at, not the call; but whether somebody called it
    # lit, where what denies that may be called.
    spoken = plan.readings.get(result.key)
    if spoken is None or (here and spoken.item.id not in plan.denied):
        return "bad earlier" if here else f"bad {plan.kind(result.key)}"
    return f"bad {plan.kind(result.key)}{here}"


def _before(plan: Plan, state: SessionState, item: str) -> Key | None:
    """What a repeated good call, once taken back, would bring back: only this visit's repeat."""
    last = state.last
    taken = last.before if isinstance(last, ItemCalled) and last.item == item else None
    standing = (record.now for record in (state.records.get(item, _NONE), taken) if record)
    good = (now for now in standing if now and now.outcome is Outcome.SATISFACTORY)
    if not any(now.visit == state.visit for now in good):
        return None
    return _back(plan, state, state.before.get(item, _NONE))


def _back(plan: Plan, state: SessionState, record: Record) -> Key | None:
    """What a correction would bring back, and which open bus claims it was called after."""
    result = record.now
    known = _result(plan, result, state.visit)
    if result is None or known is None:
        return None
    return known, tuple(result.start >= claim.start for claim in state.power_claims)


def _claim(plan: Plan, state: SessionState, claim: Claim) -> Key:
    """A claim, and for a bus which results were called after it: a yes can make them void."""
    channel = claim.channel if state.channels > 1 else 0
    if not isinstance(claim.action, SetPower):
        return plan.kind(claim.callout), channel
    results = [state.records.get(item, _NONE).now for item in plan.items]
    later = tuple(r is not None and r.counted and r.start >= claim.start for r in results)
    there = tuple(r is not None and r.counted and r.visit == claim.visit for r in results)
    found = tuple(_since(state.records.get(item, _NONE), claim) for item in plan.items)
    return claim.callout, channel, later, there, found


def _since(record: Record, claim: Claim) -> Key:
    """Of each finding, whether it was called after a bus was, and in its visit."""
    found = (told.result for told in told_of(record))
    return tuple(sorted({(r.start >= claim.start, r.visit == claim.visit) for r in found}))


def witnessed(known: Known) -> Key:
    """The same of a witness: what matters to it later."""
    plan, words = known.plan, known.words
    return (
        known.at,
        tuple(_fold(plan, word) for word in words.values()),
        tuple(
            tuple(dict.fromkeys(found.here for found in reversed(known.found.get(item, ()))))
            for item in words
        ),
        known.airframe,
        plan.buses(known.buses),
        tuple(_told(known, told) for told in known.asked),
        _put(known),
        _last(known, known.last),
        known.half,
        tuple(
            _would_be(known, known.before.get(item, NOTHING)) if _repeats(known, item) else None
            for item in words
        ),
        tuple(
            (
                item,
                plan.age(item, known.now - t.anchor),
                t.asked is None,
                plan.doubtful(item, t.anchor, t.left, t.called),
            )
            for item, t in known.timed.items()
        ),
        known.missed is None,
        tuple((told.key, *_order(known, told)) for told in known.maybe),
        known.gap,
        _held(known.held_from, known.cut, known.now, _called(known), _asked_of_buses(known)),
    )


def _asked_of_buses(known: Known) -> Iterator[float]:
    return (told.start for told in known.asked if told.key.startswith("power:"))


def _called(known: Known) -> Iterator[tuple[str, float]]:
    return ((bus, at) for bus, at in known.called.items() if bus in known.buses)


def _put(known: Known) -> int | None:
    if not known.asked:
        return None
    return _timely(bool(known.timed), known.now - known.put, len(known.asked))


def _last(known: Known, act: Act) -> Key:
    acts = tuple(_last(known, each) for each in act.acts)
    left = tuple(dict.fromkeys(found.here for found in reversed(act.found)))
    return act.kind, act.key, _would_be(known, act.before), acts, left


def _order(known: Known, maybe: Told) -> Iterator[bool]:
    for told in known.asked:
        if not told.key.startswith("power:"):
            yield maybe.start > told.start
            yield maybe.start < told.start


def _would_be(known: Known, word: Word) -> Key:
    """What a correction would bring back, and which open bus claims it was called after."""
    buses = (told for told in known.asked if told.key.startswith("power:"))
    return _fold(known.plan, word), tuple(word.start >= told.start for told in buses)


def _repeats(known: Known, item: str) -> bool:
    """Whether a good call about the item may come to repeat one of this visit."""
    taken = known.last.before if known.last.key == item else NOTHING
    return any(word.good and word.here for word in (known.words[item], taken))


def _told(known: Known, told: Told) -> Key:
    words = known.words.values()
    later = ((word.good or word.found) and word.start >= told.start for word in words)
    bus = told.key.startswith("power:")
    channel = told.channel if known.channels > 1 else 0
    there = tuple((i, w.start) in (told.here or ()) for i, w in known.words.items()) if bus else ()
    found = tuple(sorted(set(_found_since(known, told)))) if bus else ()
    return known.plan.kind(told.key), channel, tuple(later) if bus else (), there, found


def _found_since(known: Known, told: Told) -> Iterator[tuple[str, bool, bool]]:
    """Of each finding of each item, whether it was called after a bus was, and in its visit."""
    for item in known.words:
        for found in known.found.get(item, ()):
            yield item, found.start >= told.start, (item, found.start) in (told.here or ())


def _fold(plan: Plan, word: Word) -> Key:
    kind = plan.kind(word.key) if word.here else ""
    return word.good, word.here, word.bad, word.lit, kind
