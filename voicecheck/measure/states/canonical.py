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
            *Why it is held*: a part that comes back resumes as the crew's callout does.
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

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, Grade, Item
from voicecheck.engine.actions import SetPower
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import (
    ChangedNothing,
    Claim,
    Differed,
    ItemCalled,
    LastAct,
    Outcome,
    PowerCalled,
    Record,
    Result,
    SessionState,
)
from voicecheck.engine.windows import QUESTION_MARGIN

Key = tuple[Any, ...]

DARK: Final = "dark"
"""The kind of a call that names a dark lamp; other kinds are the grades."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """What a reading's key means. kind: a grade, or DARK."""

    item: Item
    kind: str

    @property
    def good(self) -> bool:
        """Whether the crew says that the item is as it should be."""
        return self.kind == Grade.GOOD.value


class Plan:
    """Look-up tables of one checklist."""

    def __init__(self, checklist: Checklist) -> None:
        self.checklist = checklist
        self.items = {item.id: item for item in checklist.items}
        self.positions = {position.id: position for position in checklist.positions}
        self.readings: dict[str, Spoken] = {}
        for item in checklist.items:
            self.readings |= {r.key: Spoken(item, r.grade.value) for r in item.readings}
            self.readings |= {r.key: Spoken(item, DARK) for r in item.darks}
        self.needs: dict[str, dict[str, str]] = {
            item.id: {**self.positions[item.position].power, **item.power}
            for item in checklist.items
        }
        wanted = {pair for needs in self.needs.values() for pair in needs.items()}
        self.wanted: frozenset[tuple[str, str]] = frozenset(wanted)
        self.others = {f"select:{gone.position}" for gone in checklist.not_fitted}
        """Keys of callouts that are neither readings, positions, power nor commands."""
        self.others |= {f"reason:{reason}" for reason in checklist.reasons}
        self.marked = any(item.read_back for item in checklist.items)
        self.edges = {item.id: _edges(checklist, item) for item in checklist.items if item.window}

    def kind(self, key: str) -> str:
        """The kind of call that a key stands for; the key itself when it is no reading."""
        spoken = self.readings.get(key)
        return f"{spoken.item.id}={spoken.kind}" if spoken else key

    def buses(self, states: dict[str, str]) -> tuple[tuple[str, str], ...]:
        """Standing buses, sorted, without those in a state that nothing needs."""
        return tuple(sorted(pair for pair in states.items() if pair in self.wanted))


def _edges(checklist: Checklist, item: Item) -> tuple[float, ...]:
    """Ages in seconds at which what a closing call would mean changes, then the question."""
    assert item.window is not None
    timing, window = checklist.timing, item.window
    half = 2 * timing.word_error + timing.reaction_spread
    limits = (window.lower - half, window.lower + half, window.upper - half, window.upper + half)
    question = limits[-1] + QUESTION_MARGIN
    return tuple(timing.reaction + limit for limit in (*limits, question))


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
        plan.buses(buses),
        (question.ask.value, tuple(_claim(plan, state, c) for c in question.claims))
        if question
        else None,
        state.dark_asked,
        (half.item, half.said.channel) if half else None,
        tuple(_before(plan, state, item) for item in plan.items),
        _act(plan, state, last) if last else None,
        tuple(
            (
                w.item,
                bisect_right(plan.edges[w.item], state.now - w.anchor),
                w.asked,
                doubtful(plan, w.item, w.anchor, w.left_from, w.called_from),
            )
            for w in state.windows
        ),
        state.missed_from is None,
        tuple((maybe.callout, *_later(state, maybe)) for maybe in state.maybe_at),
    )


def _act(plan: Plan, state: SessionState, last: LastAct) -> Key:
    """The last act, as far as taking it back depends on it."""
    kind = type(last).__name__
    match last:
        case ItemCalled(item, _, before):
            return kind, item, _back(plan, state, before)
        case PowerCalled(bus):
            return kind, bus, None
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


def doubtful(plan: Plan, item: str, anchor: float, left: float | None, called: float | None) -> Key:
    """What words that were not understood do to a running interval, in the ranges of its age."""
    edges = plan.edges[item]
    return (
        None if left is None else bisect_right(edges, anchor - left),
        None if called is None else bisect_right(edges, called - anchor),
    )


_NONE: Final = Record()


def _result(plan: Plan, result: Result | None, visit: int) -> str | None:
    if result is None or not result.counted:
        return None
    here = "" if result.visit == visit else " earlier"
    if result.outcome is Outcome.SATISFACTORY:
        return "good" + here
    # After the visit only the outcome is looked at, not the call.
    return "bad earlier" if here else f"bad {plan.kind(result.key)}"


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
    results = (state.records.get(item, _NONE).now for item in plan.items)
    later = (r is not None and r.counted and r.start >= claim.start for r in results)
    return claim.callout, channel, tuple(later)
