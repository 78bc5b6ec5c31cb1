"""Everything a session knows between two events: frozen, so that it can be kept and compared.

Times are seconds of audio-stream time.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field

from voicecheck.engine.effects import Say


class Outcome(enum.StrEnum):
    """The result of an item."""

    SATISFACTORY = "satisfactory"
    UNSATISFACTORY = "unsatisfactory"
    NOT_FITTED = "not fitted"
    NOT_TESTED = "not tested"
    VOID = "void"


@dataclass(frozen=True, slots=True)
class Timing:
    """A measured interval: low..high seconds, and what that means for the window."""

    item: str
    lower: float
    upper: float
    low: float | None
    high: float | None
    verdict: str
    at: float


@dataclass(frozen=True, slots=True)
class Result:
    """One result of an item; an unsatisfactory one is a finding.

    key: the reading that was called. visit: number of the visit to the position in which it
    was called (each selection of a position is a new visit). dark: captions named dark.
    power: what was powered then. timing: of a finding that was timed. read_back: how the
    other crew member's call is known to be theirs. withdrawn: why it no longer counts, if the
    crew took it back.
    """

    outcome: Outcome
    key: str
    called: str
    start: float
    end: float
    visit: int
    reason: str | None = None
    dark: tuple[str, ...] = ()
    power: Mapping[str, str] = field(default_factory=dict)
    timing: Timing | None = None
    read_back: str | None = None
    withdrawn: str | None = None

    @property
    def counted(self) -> bool:
        """Whether it says anything about the aircraft (good or bad)."""
        return self.outcome in (Outcome.SATISFACTORY, Outcome.UNSATISFACTORY)


@dataclass(frozen=True, slots=True)
class Record:
    """An item's standing result and all that came before it; nothing is ever erased."""

    now: Result | None = None
    past: tuple[Result, ...] = ()


@dataclass(frozen=True, slots=True)
class OpenWindow:
    """A running interval. deadline: the next time to act.

    anchor: when the selector left, at the latest; left_from: at the earliest, if not then.
    called_from: since when somebody may have called the lamp without being understood.
    """

    item: str
    anchor: float
    deadline: float
    asked: bool = False
    left_from: float | None = None
    called_from: float | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """A callout that counts only once it is affirmed. Times are those of its words."""

    callout: str
    words: str
    start: float
    end: float
    channel: int


class Ask(enum.StrEnum):
    """What a yes or no would now answer."""

    CLAIMS = "claims"
    COMPLETE = "complete"
    ABANDON = "abandon"


@dataclass(frozen=True, slots=True)
class Question:
    """An open question of ours: yes or no or, for abandoning, a reason or no."""

    ask: Ask
    claims: tuple[Claim, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadBack:
    """One crew member called an item; the other has yet to. reading: the key called."""

    item: str
    reading: str
    said: Claim


@dataclass(frozen=True, slots=True)
class LastAct:
    """What "correction" would take back: the last callout, whatever it did.

    kind: item, repeat (of a finding, which stands), power, position, question, read-back, or none
    (it had changed nothing).
    """

    kind: str
    key: str
    words: str
    previous: Record | None = None


@dataclass(frozen=True, slots=True)
class SessionState:
    """The whole of it, but for the phase, which the state machine keeps.

    power: bus to "on" or "off" as affirmed; None while unknown or unconfirmed.
    """

    position: str | None = None
    visit: int = 0
    visited: tuple[str, ...] = ()
    records: Mapping[str, Record] = field(default_factory=dict)
    timings: tuple[Timing, ...] = ()
    power: Mapping[str, str | None] = field(default_factory=dict)
    power_log: tuple[tuple[str, str, float], ...] = ()
    windows: tuple[OpenWindow, ...] = ()
    question: Question | None = None
    dark_asked: str | None = None
    last: LastAct | None = None
    before: Mapping[str, Record] = field(default_factory=dict)
    last_said: tuple[Say, ...] = ()
    now: float = 0.0
    quiet_from: float = 0.0
    reminders: int = 0
    unclear: int = 0
    heard_count: int = 0
    unclear_count: int = 0
    missed_from: float | None = None
    """End of the first words not understood since the selector was last known to be here."""
    maybe_at: tuple[Claim, ...] = ()
    """Calls of other positions, half understood and not answered yet, in order."""
    lost: tuple[str, ...] = ()
    second: bool = False
    channels: int = 1
    read_back: ReadBack | None = None
    battery_from: float | None = None
    battery_warned: bool = False
    held_reason: str | None = None
    ended: str | None = None
    complete: bool = False
