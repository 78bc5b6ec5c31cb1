"""Everything a session knows between two events: frozen, so that it can be kept and compared.

Times are seconds of audio-stream time.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from operator import attrgetter
from typing import Any, Final

from voicecheck.engine.actions import Action, ItemAction, SetPower, Stay
from voicecheck.engine.effects import Say
from voicecheck.engine.events import Part
from voicecheck.engine.phases import Phase
from voicecheck.engine.windows import WindowVerdict


class Outcome(enum.StrEnum):
    """The result of an item."""

    SATISFACTORY = "satisfactory"
    UNSATISFACTORY = "unsatisfactory"
    NOT_FITTED = "not fitted"
    NOT_TESTED = "not tested"
    VOID = "void"


_SAY_SOMETHING: Final = (Outcome.SATISFACTORY, Outcome.UNSATISFACTORY)


@dataclass(frozen=True, slots=True)
class Timing:
    """A measured interval: low..high seconds, and what that means for the window."""

    item: str
    lower: float
    upper: float
    low: float | None
    high: float | None
    verdict: WindowVerdict
    at: float


@dataclass(frozen=True, slots=True)
class Result:
    """One result of an item; an unsatisfactory one is a finding.

    call: number of the call that it rests on, its identity among the results of its item.
    key: the reading that was called. visit: number of the visit to the position in which it
    was called (each selection of a position is a new visit). dark: captions named dark.
    power: what was powered then. timing: of a finding that was timed. read_back: how the
    other crew member's call is known to be theirs. withdrawn: why it no longer counts. reopened:
    why the item is open all the same, of a finding that is kept. by: who called it, where that is
    known: "pilot" or "second" by the microphone, or "hand".
    """

    outcome: Outcome
    call: int
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
    reopened: str | None = None
    by: str | None = None

    @property
    def counted(self) -> bool:
        """Whether it says anything about the aircraft (good or bad)."""
        return self.outcome in _SAY_SOMETHING


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
    """Words that were called, or may have been, and what they would do.

    call: its number in the session. callout: its key. Times are those of its words. visit: in
    which it was said. touched: entered by hand, so that nobody knows by whom.
    """

    call: int
    callout: str
    action: Action
    words: str
    start: float
    end: float
    channel: int
    visit: int = 0
    touched: bool = False

    @property
    def item(self) -> str | None:
        """The item that it is about, if any."""
        action = self.action
        return action.item.id if isinstance(action, ItemAction) else None


class Ask(enum.StrEnum):
    """What a yes or no would now answer."""

    CLAIMS = "claims"
    COMPLETE = "complete"
    ABANDON = "abandon"


@dataclass(frozen=True, slots=True)
class Question:
    """An open question of ours: yes or no or, for abandoning, a reason or no.

    asked_at: stream seconds at which it was last put. listed: what was read out before it, of the
    end.
    """

    ask: Ask
    claims: tuple[Claim, ...] = ()
    asked_at: float = 0.0
    listed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FirstCall:
    """One of two crew called a marked item; the other has yet to. reading: the key called."""

    item: str
    reading: str
    said: Claim


@dataclass(frozen=True, slots=True)
class ItemCalled:
    """The last call was about an item; before: what stood of it."""

    item: str
    words: str
    before: Record


@dataclass(frozen=True, slots=True)
class CalledAgain:
    """The last call repeated a finding, which stands."""

    item: str
    words: str


@dataclass(frozen=True, slots=True)
class FirstCalled:
    """The last call waits for the other crew member's."""

    item: str
    words: str


@dataclass(frozen=True, slots=True)
class Differed:
    """The last call differed from the other crew member's; call: its number."""

    item: str
    call: int
    words: str


@dataclass(frozen=True, slots=True)
class PowerCalled:
    """The last call set a bus."""

    bus: str
    words: str


@dataclass(frozen=True, slots=True)
class PositionCalled:
    """The last call moved the selector."""

    position: str
    words: str


@dataclass(frozen=True, slots=True)
class Asked:
    """The last call led to a question."""

    words: str


@dataclass(frozen=True, slots=True)
class ChangedNothing:
    """The last call had changed nothing."""

    words: str


@dataclass(frozen=True, slots=True)
class Affirmed:
    """The last call was a yes to several things at once; acts: what it did, in order."""

    acts: tuple[LastAct, ...]
    words: str


LastAct = (
    ItemCalled
    | CalledAgain
    | FirstCalled
    | Differed
    | PowerCalled
    | PositionCalled
    | Asked
    | ChangedNothing
    | Affirmed
)
"""What "correction" would take back: the last callout, whatever it did."""


@dataclass(frozen=True, slots=True)
class SessionState:
    """The whole of it; what may be said next and when to wake are derived from it.

    airframe: the crew has affirmed the registration. power: bus to "on" or "off" as affirmed;
    None while unknown or unconfirmed.
    before: of an item called good twice, what stood before the first. first_call: of a marked
    item. held_by: the lost part that made us hold, None if the crew did. dark_asked: the item
    whose dark lamp is asked for. calls: how many claims have been numbered.
    """

    phase: Phase = Phase.STARTING
    position: str | None = None
    visit: int = 0
    visited: tuple[str, ...] = ()
    records: Mapping[str, Record] = field(default_factory=dict)
    timings: tuple[Timing, ...] = ()
    airframe: bool = False
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
    calls: int = 0
    missed_from: float | None = None
    """End of the first words not understood since the selector was last known to be here."""
    maybe_at: tuple[Claim, ...] = ()
    """Calls of other positions, half understood and not answered yet, in order."""
    lost: tuple[Part, ...] = ()
    second: bool = False
    channels: int = 1
    first_call: FirstCall | None = None
    battery_from: float | None = None
    battery_warned: bool = False
    held_by: Part | None = None
    held_from: float | None = None
    """When the present hold began, or a part was last lost in it."""
    cut: bool = False
    """Whether a part was lost in it without which nothing can be heard."""
    place_lost: bool = False
    """Whether nobody has said since a gap that the selector is where it was."""
    ended: str | None = None
    complete: bool = False

    @property
    def claims(self) -> tuple[Claim, ...]:
        """What the open question is about, if it is about claims."""
        question = self.question
        return () if question is None or question.ask is not Ask.CLAIMS else question.claims

    @property
    def power_claims(self) -> tuple[Claim, ...]:
        """Of these, the ones about buses."""
        return tuple(claim for claim in self.claims if isinstance(claim.action, SetPower))

    def is_place(self, claim: Claim) -> bool:
        """Whether it is about where the selector is, and awaits an answer."""
        half_understood = any(claim.callout == other.callout for other in self.maybe_at)
        return half_understood or (self.place_lost and isinstance(claim.action, Stay))

    def but(self, changes: dict[str, Any]) -> SessionState:
        """The same but for some fields: `dataclasses.replace` in a third of its time."""
        return SessionState(**dict(zip(_FIELDS, _VALUES(self), strict=True)) | changes)


_FIELDS: Final = tuple(one.name for one in fields(SessionState))
_VALUES: Final = attrgetter(*_FIELDS)
