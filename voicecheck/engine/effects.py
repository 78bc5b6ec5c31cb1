"""What a session decides: plain facts for the rooms that speak, show and write."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field

from voicecheck.callouts import Callout


class Priority(enum.StrEnum):
    """A warning stops every other prompt and is never stopped by one."""

    ROUTINE = "routine"
    """May be left out when the crew has already gone on."""
    KEPT = "kept"
    """Waits its turn and is always spoken: a question, or the caution."""
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Say:
    """Speak a prompt: its id in the grammar's prompts.yaml and the values for its slots."""

    prompt: str
    values: Mapping[str, str] = field(default_factory=dict)
    priority: Priority = Priority.ROUTINE


@dataclass(frozen=True, slots=True)
class Listen:
    """From now on these callouts, and no others, can be heard."""

    callouts: tuple[Callout, ...]


@dataclass(frozen=True, slots=True)
class Note:
    """A line for the record. kind: result, finding, void, power, position, hold, ...

    facts: JSON-ready values; `at` is stream time in seconds.
    """

    kind: str
    at: float
    facts: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Show:
    """The state as an eye should see it; facts are JSON-ready."""

    view: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Wake:
    """Send a Passed event once stream time reaches `at`; replaces the previous wish."""

    at: float | None


@dataclass(frozen=True, slots=True)
class Finish:
    """The session is over; summary is the machine-readable result (see engine.summary)."""

    summary: Mapping[str, object]


Effect = Say | Listen | Note | Show | Wake | Finish
