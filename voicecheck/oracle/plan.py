"""Look-up tables of one checklist, for whoever hears a session without seeing the engine."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, Grade, Item, Reading, Window

Key = tuple[Any, ...]

DARK: Final = "dark"
"""The kind of a call that names a dark lamp; other kinds are the grades."""
QUESTION_MARGIN: Final = 1.0
"""Seconds after the latest possible in-time call before the crew is asked."""
ANSWER_TIME: Final = 8.0
"""Seconds that the crew has to answer before silence becomes the finding."""

USUAL_CALL: Final = 0.9
"""Seconds of a usual leaving call; the hand may have moved as a longer one began."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """What a reading's key means. kind: a grade, or DARK."""

    item: Item
    kind: str
    reading: Reading

    @property
    def good(self) -> bool:
        """Whether the crew says that the item is as it should be."""
        return self.kind == Grade.GOOD.value


def _others(checklist: Checklist) -> set[str]:
    not_fitted = {f"select:{gone.position}" for gone in checklist.not_fitted}
    return not_fitted | {f"reason:{reason}" for reason in checklist.reasons}


def _shared(checklist: Checklist) -> set[str]:
    seen: set[str] = set()
    shared: set[str] = set()
    for position in checklist.positions:
        readings = _readings(position.items).values()
        here = {phrase for spoken in readings for phrase in spoken.reading.phrases}
        shared |= seen & here
        seen |= here
    return shared


def _readings(items: Iterable[Item]) -> dict[str, Spoken]:
    found: dict[str, Spoken] = {}
    for item in items:
        found |= {r.key: Spoken(item, r.grade.value, r) for r in item.readings}
        found |= {r.key: Spoken(item, DARK, r) for r in item.darks}
    return found


class Plan:
    """One checklist. needs: the power of each item, its position's and its own."""

    def __init__(self, checklist: Checklist) -> None:
        self.checklist = checklist
        every = (*checklist.items, *checklist.others)
        self.items = {item.id: item for item in every}
        self.positions = {position.id: position for position in checklist.positions}
        self.readings = _readings(every)
        self.shared = frozenset(_shared(checklist))
        """Wordings that are called at several positions."""
        self.needs = {item.id: self._needed(item) for item in every}
        self.denied = {denied for item in checklist.items for denied in item.dark_of}
        """Items of what cannot be lit where something else is good."""
        wanted = {pair for needs in self.needs.values() for pair in needs.items()}
        self.wanted: frozenset[tuple[str, str]] = frozenset(wanted)
        self.others = _others(checklist)
        """Keys of callouts that are neither readings, positions, power nor commands."""
        self.marked = any(item.read_back for item in checklist.items)
        timing = checklist.timing
        before, after, word = timing.hand_before, timing.hand_after, timing.word_error
        self.half = math.sqrt(((before + after) / 2) ** 2 + timing.reaction_spread**2 + 2 * word**2)
        """Seconds of half the width of a measured interval: hand, reaction and two word ends."""
        self.lag = timing.reaction + (after - before) / 2
        """Seconds that a reaction and the hand put between the calls beyond the lamp's own."""
        self.edges = {i.id: self._edges(i.window) for i in checklist.items if i.window}

    def _needed(self, item: Item) -> dict[str, str]:
        """Buses; what nobody has foreseen is seen under any power."""
        return {} if item.unforeseen else {**self.positions[item.position].power, **item.power}

    def kind(self, key: str) -> str:
        """The kind of call that a key stands for; the key itself when it is no reading."""
        spoken = self.readings.get(key)
        return f"{spoken.item.id}={spoken.kind}" if spoken else key

    def buses(self, states: dict[str, str]) -> tuple[tuple[str, str], ...]:
        """Standing buses, sorted, without those in a state that nothing needs."""
        return tuple(sorted(pair for pair in states.items() if pair in self.wanted))

    def _edges(self, window: Window) -> tuple[float, ...]:
        """Ages in seconds at which what a closing call would mean changes, then the question."""
        lower, upper, half = window.lower, window.upper, self.half
        limits = (lower - half, lower + half, upper - half, upper + half)
        question = limits[-1] + QUESTION_MARGIN
        return tuple(self.lag + limit for limit in (*limits, question))

    def age(self, item: str, seconds: float) -> int:
        """In which of the ranges that the edges cut an age of a running lamp falls."""
        return bisect_right(self.edges[item], seconds)

    def doubtful(self, item: str, anchor: float, left: float | None, called: float | None) -> Key:
        """What words not understood do to a running interval, in the ranges of its age."""
        return (
            None if left is None else self.age(item, anchor - left),
            None if called is None else self.age(item, called - anchor),
        )
