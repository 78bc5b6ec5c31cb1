"""What can happen next in a state: every accepted callout, time, losses, unclear speech, the end.

A move is a short run of events. Its first part brings a counter or a part to where the move has
meaning (a lost part comes back before it is lost again); each event of it is checked and leads
to a state of its own. Events are made while the engine goes, so times can follow its wishes.

Calls follow each other by one second and last 0.8 s. While a timed lamp runs they follow by a
64th of a second instead, so that the age of its window is moved by time alone; the closing
calls are then made at a sample of every range of ages that is still ahead.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from voicecheck.checklist.resolved import position_key
from voicecheck.engine import Engine
from voicecheck.engine.events import (
    Ended,
    Event,
    Heard,
    Lost,
    Overheard,
    Part,
    Passed,
    Restored,
    Unclear,
)
from voicecheck.engine.offers import Offer
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import SessionState
from voicecheck.oracle.plan import Plan

A_YES: Final = 1.6
"""Seconds after which a yes begins: three things read back have sounded by then."""
JUST: Final = 0.01
"""Seconds by which "just before" is before."""
LONG: Final = 100.0
"""Seconds that are beyond every deadline but the battery's."""
PARTS: Final = (Part.MICROPHONE, Part.SESSION, Part.VOICE)
UNCLEAR_RUN: Final = 5
"""Longer than the engine asks again."""
MAX_DUE: Final = 12
"""More deadlines than can stand in a row: two reminders, a window's two, the battery's one."""

ASIDE: Final = frozenset(
    f"command:{name}" for name in ("say-again", "read-back", "stand-by", "abandon", "crew-change")
)
"""Callouts that change no result: with one chain of items they meet every state."""

Events = Iterator[Event]


@dataclass(frozen=True, slots=True)
class Move:
    """events: makes the events while the engine is being driven. offer: key of the callout.

    waits: at the end nothing may be due any more.
    """

    name: str
    events: Callable[[Engine], Events]
    offer: str | None = None
    waits: bool = False


def heard(engine: Engine, key: str, channel: int = 0, start: float | None = None) -> Heard:
    """A callout that begins at `start`, or soon after now."""
    running = bool(engine.state.windows)
    gap, length = (1 / 128, 1 / 128) if running else (0.2, 0.8)
    if key == "command:affirm" and not running:
        gap = A_YES
    begins = engine.state.now + gap if start is None else start
    return Heard(key, key, begins, begins + length, 1.0, channel)


def moves(engine: Engine, plan: Plan, *, thorough: bool) -> Iterator[Move]:
    """All moves of the state that the engine is in.

    thorough: everything; else only what can change results: callouts but for those of ASIDE,
    time up to the next deadline, and while a lamp is timed the loss of the microphone.
    """
    offers = dict(_one_of_each(plan, engine.state, engine.offers()))
    running = bool(engine.state.windows)
    if not thorough:
        offers = {key: offer for key, offer in offers.items() if key not in ASIDE}
    yield from _calls(engine, plan, offers)
    yield from _timed_calls(engine, plan, offers)
    if engine.phase is Phase.STARTING:
        return
    waited = thorough or running
    if waited:
        yield Move("time", _let_pass, waits=True)
    else:
        yield Move("time", _next_due)
    for part in PARTS if thorough else PARTS[:1] if running else ():
        yield Move(f"lose {part}", _lose(part))
    if waited:
        yield Move("overheard", _overheard)
    if thorough:
        yield from _not_calls(engine, plan, offers)
    yield Move("end", _end)


def _calls(engine: Engine, plan: Plan, offers: Iterable[str]) -> Iterator[Move]:
    channels = (0, 1) if engine.state.channels > 1 else (0,)
    for key in offers:
        either = key in plan.readings or key == "command:affirm"
        for channel in channels if either and plan.marked else (0,):
            yield Move(key, _say(key, channel), key)


def _timed_calls(engine: Engine, plan: Plan, offers: Container[str]) -> Iterator[Move]:
    """Time and closing calls at a sample of every range of ages of a running lamp."""
    for window in engine.state.windows:
        for at in _samples(plan, engine.state, window.item, window.anchor):
            yield Move(f"time {at - window.anchor:g}", _pass(at))
            for reading in plan.items[window.item].readings:
                if reading.key in offers:
                    yield Move(reading.key, _say(reading.key, 0, at), reading.key)


def _not_calls(engine: Engine, plan: Plan, offers: Iterable[str]) -> Iterator[Move]:
    """Speech that is not understood, half understood, or not on offer."""
    yield Move("unclear", _unclear_run)
    position = engine.state.position
    here = None if position is None else position_key(position)
    guesses = _guesses(plan, [key for key in offers if key != here])
    yield from (Move(f"guess {key}", _guess(key)) for key in guesses)
    yield Move("guess two", _guess_two)
    yield Move("not on offer", _foreign)


def _one_of_each(
    plan: Plan, state: SessionState, offers: Mapping[str, Offer]
) -> Iterator[tuple[str, Offer]]:
    """Of alike readings (same item and grade) the one that stands and one other."""
    seen: dict[str, int] = {}
    standing = {record.now.key for record in state.records.values() if record.now is not None}
    for key, offer in offers.items():
        if key in plan.readings and key not in standing:
            kind = plan.kind(key)
            if kind in seen:
                continue
            seen[kind] = 1
        yield key, offer


def _guesses(plan: Plan, offers: Iterable[str]) -> Iterator[str]:
    """One callout of each sort that a guess can be: good, bad, another position, a bus."""
    seen: set[str] = set()
    for key in offers:
        spoken = plan.readings.get(key)
        sort = ("good" if spoken.good else "bad") if spoken else key.split(":")[0]
        sort = "position" if sort in ("select", "selector") else sort
        if sort not in seen and sort != "command":
            seen.add(sort)
            yield key


def _samples(plan: Plan, state: SessionState, item: str, anchor: float) -> Iterator[float]:
    edges = plan.edges[item]
    middles = [(low + high) / 2 for low, high in zip((0.0, *edges), edges, strict=False)]
    for age in (*middles, edges[-1] + 1):
        if anchor + age > state.now:
            yield anchor + age


def _say(key: str, channel: int, start: float | None = None) -> Callable[[Engine], Events]:
    def events(engine: Engine) -> Events:
        yield heard(engine, key, channel, start)

    return events


def _pass(at: float) -> Callable[[Engine], Events]:
    def events(engine: Engine) -> Events:
        yield Passed(at)

    return events


def _next_due(engine: Engine) -> Events:
    if engine.wake is not None:
        yield Passed(max(engine.state.now, engine.wake))


def _let_pass(engine: Engine) -> Events:
    """Just before and at each deadline until nothing is due any more, and beyond."""
    for _ in range(MAX_DUE):
        wake = engine.wake
        if wake is None:
            break
        if wake - JUST > engine.state.now:
            yield Passed(wake - JUST)
        yield Passed(max(engine.state.now, wake))
    yield Passed(engine.state.now + LONG)


def _lose(part: Part) -> Callable[[Engine], Events]:
    def events(engine: Engine) -> Events:
        now = engine.state.now
        if part in engine.state.lost:
            yield Restored(part, now)
        yield Lost(part, now)
        yield Lost(part, now)
        yield Restored(part, now)

    return events


def _unclear(engine: Engine, guess: tuple[str, ...] = (), channel: int = 0) -> Unclear:
    like = heard(engine, "", channel)
    return Unclear(like.start, like.end, guess, channel)


def _overheard(engine: Engine) -> Events:
    like = heard(engine, "")
    yield Overheard(like.start, like.end)


def _unclear_run(engine: Engine) -> Events:
    for _ in range(UNCLEAR_RUN):
        yield _unclear(engine)


def _guess(key: str) -> Callable[[Engine], Events]:
    def events(engine: Engine) -> Events:
        if engine.state.unclear:
            yield heard(engine, "command:say-again")
        yield _unclear(engine, (key,))

    return events


def _guess_two(engine: Engine) -> Events:
    """A power call and a reading in one unclear breath, and a guess that is not on offer."""
    keys = list(engine.offers())
    power = [key for key in keys if key.startswith("power:")]
    if power:
        if engine.state.unclear:
            yield heard(engine, "command:say-again")
        yield _unclear(engine, ("nothing:like-this",))
        yield _unclear(engine, (power[-1], keys[0]))


def _foreign(engine: Engine) -> Events:
    yield heard(engine, "nothing:like-this")
    if "command:affirm" not in engine.offers():
        yield heard(engine, "command:affirm")


def _end(engine: Engine) -> Events:
    yield Ended(engine.state.now, "the sound ended")


def after_the_end(engine: Engine, plan: Plan) -> Iterator[Event]:
    """Events for an engine that has finished: none may do anything."""
    now = engine.state.now
    for key in (*list(plan.readings)[:2], "command:affirm", "selector:off"):
        yield replace(heard(engine, key), start=now, end=now + 1)
    yield Passed(now + LONG)
    yield Lost(Part.MICROPHONE, now)
    yield Unclear(now, now + 1)
    yield Ended(now, "again")
