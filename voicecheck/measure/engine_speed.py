"""How fast the engine is, and whether a long session slows it down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from time import thread_time_ns
from typing import Final

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import Engine
from voicecheck.engine.events import Event, Heard, KeyPressed
from voicecheck.measure.invented_type import invented_checklist
from voicecheck.measure.long_session import events_of
from voicecheck.measure.table import Table

SIZES: Final = ((12, 40), (50, 500))
"""Positions and items: a usual panel, and far more than any."""
EVENTS: Final = 10_000
END: Final = 1_000
"""Events at either end of a session that are compared."""
COLUMNS: Final = (
    "positions",
    "items",
    "events",
    "events/s",
    "worst ms",
    "worst at",
    "first µs",
    "last µs",
    "growth",
)


@dataclass(frozen=True, slots=True)
class Speed:
    """Time that one session took.

    seconds: of each event, in order. worst_event: callout or kind of the slowest one.
    """

    seconds: tuple[float, ...]
    worst_event: str

    @property
    def events_per_second(self) -> float:
        """Over the whole session."""
        return len(self.seconds) / sum(self.seconds)

    @property
    def worst(self) -> float:
        """Seconds of the slowest event."""
        return max(self.seconds)

    @property
    def first(self) -> float:
        """Mean seconds of an event at the beginning (END events, at most half of all)."""
        return self._mean(self.seconds[: self._end])

    @property
    def last(self) -> float:
        """Mean seconds of an event at the end."""
        return self._mean(self.seconds[-self._end :])

    @property
    def _end(self) -> int:
        return min(END, len(self.seconds) // 2)

    @staticmethod
    def _mean(seconds: Sequence[float]) -> float:
        return sum(seconds) / len(seconds)


def time_session(checklist: Checklist, events: Sequence[Event]) -> Speed:
    """Feed the events (two or more) to a fresh engine, with a watch on each.

    Processor time of this thread, so that another program's turn is not taken for ours.
    """
    engine = Engine(checklist)
    took = []
    for event in events:
        before = thread_time_ns()
        engine.handle(event)
        took.append((thread_time_ns() - before) / 1e9)
    return Speed(tuple(took), _named(events[took.index(max(took))]))


def measure_engine(events: int = EVENTS) -> Table:
    """One row for each of SIZES, each a session of `events` events (two or more)."""
    rows = []
    for positions, items in SIZES:
        checklist = invented_checklist(positions, items)
        speed = time_session(checklist, list(events_of(checklist, events)))
        rows.append(
            (
                positions,
                items,
                events,
                round(speed.events_per_second),
                round(speed.worst * 1e3, 2),
                speed.worst_event,
                round(speed.first * 1e6, 1),
                round(speed.last * 1e6, 1),
                round(speed.last / speed.first, 2),
            )
        )
    end = min(END, events // 2)
    return Table(
        "engine: speed",
        COLUMNS,
        tuple(rows),
        (
            f"first, last: mean for one of the first and last {end} events of the session; "
            "growth: last over first; all in processor time",
            "a third of all events are callouts, the others prompts that end and time that passes",
        ),
    )


def _named(event: Event) -> str:
    return event.callout if isinstance(event, Heard | KeyPressed) else type(event).__name__
