"""What a walk or a session found: counts, and broken invariants with the way to them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from voicecheck.engine.events import (
    Began,
    Event,
    Heard,
    KeyPressed,
    Lost,
    Passed,
    Restored,
    Unclear,
)

LONGEST: Final = 15
"""Events of the way to a problem that are told; `Problem.events` has all."""


@dataclass(frozen=True, slots=True)
class Problem:
    """A broken invariant and a short list of events that breaks it."""

    invariant: str
    what: str
    events: tuple[Event, ...]

    def __str__(self) -> str:
        events = [_short(event) for event in self.events]
        told = ", ".join(events if len(events) <= LONGEST else ["...", *events[-LONGEST:]])
        return f"{self.invariant}: {self.what}; after {told}"


def _short(event: Event) -> str:
    """An event in a few words: a callout's key, or what it is."""
    match event:
        case Heard(key, _, _, _, _, channel):
            return key if channel == 0 else f"{key} (second)"
        case KeyPressed(key):
            return f"{key} (by key)"
        case Unclear(_, _, guess):
            return f"unclear ({', '.join(guess)})"
        case Began(_, second, channels):
            crew = "two crew" if second else "one"
            return f"began ({crew}, {channels} microphone{'s' if channels > 1 else ''})"
        case Lost(part) | Restored(part):
            return f"{type(event).__name__.lower()} {part}"
        case Passed(now):
            return f"time {now:g}"
        case _:
            return type(event).__name__.lower()


@dataclass(slots=True)
class Graph:
    """What a walk found. closed: nothing is left to expand; else all up to `depth` moves is."""

    states: int = 0
    transitions: int = 0
    depth: int = 0
    closed: bool = True
    seconds: float = 0.0
    problems: list[Problem] = field(default_factory=list)
