"""A crew that goes round a checklist again and again: events for an engine, as many as wanted."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, islice

from voicecheck.checklist.resolved import Checklist, Grade, Item, Position
from voicecheck.engine.events import Began, Event, Heard, Passed, Prompted, Unclear

_PAUSE = 1.2
"""Seconds between the words of two callouts: never over the silence of a reminder."""
_WORDS = 0.8
_MISCALL = 7
"""Every so many items one is called wrong first, and the right call is affirmed."""


def events_of(checklist: Checklist, count: int) -> Iterator[Event]:
    """`count` events of one session that never completes.

    Each callout is followed by its prompt and by time that passes, as in a live session.
    Every item is called in every round, timed lamps after the selector has left; so results
    supersede one another, and what the engine must remember grows with the session.
    """
    return islice(chain([Began(0.0)], _told(checklist)), count)


def _told(checklist: Checklist) -> Iterator[Event]:
    now = 0.0
    for key in _calls(checklist):
        start = now + _PAUSE
        end = start + _WORDS
        if key is None:
            yield Unclear(start, end)
        else:
            yield Heard(key, "", start, end, 1.0)
        yield Prompted(end, end + _PAUSE / 2)
        yield Passed(end + _PAUSE / 2)
        now = end


def _calls(checklist: Checklist) -> Iterator[str | None]:
    """Keys of callouts without end; None where the crew could not be understood."""
    for bus, state in checklist.positions[0].power.items():
        yield from (f"power:{bus}:{state}", "command:affirm")
    number = 0
    while True:
        before: Position | None = None
        for position in checklist.positions[:-1]:
            yield f"select:{position.id}"
            yield from _outs(before)
            for item in position.items:
                if item.window is None:
                    number += 1
                    yield from _item(item, wrong=number % _MISCALL == 0)
            before = position
        yield "selector:off"
        yield from _outs(before)
        yield from (None, "command:stand-by", "command:resume", "command:read-back")


def _outs(left: Position | None) -> Iterator[str]:
    for item in left.items if left else ():
        if item.window is not None:
            yield _key(item, Grade.GOOD)


def _item(item: Item, *, wrong: bool) -> Iterator[str]:
    if wrong:
        yield _key(item, Grade.BAD)
    yield _key(item, Grade.GOOD)
    if wrong:
        yield "command:affirm"


def _key(item: Item, grade: Grade) -> str:
    return next(reading.key for reading in item.readings if reading.grade is grade)
