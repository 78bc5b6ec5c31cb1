"""What may happen to a session: plain facts, each with its own time.

All times are seconds of audio-stream time (sample count / rate). The journal is the
list of these events; feeding it again reproduces every effect.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Part(enum.StrEnum):
    """What a session rests on and can lose. SESSION: the program itself, between two runs."""

    MICROPHONE = "microphone"
    SESSION = "session"
    VOICE = "voice"
    LOUDSPEAKER = "loudspeaker"
    RECORDING = "recording"
    RECORD = "record"


@dataclass(frozen=True, slots=True)
class Began:
    """The session starts. now: stream time, normally 0.0.

    second: a second crew member takes part, so marked items need a read-back.
    channels: 2 when each has a microphone, so that the channel tells who spoke.
    """

    now: float
    second: bool = False
    channels: int = 1


@dataclass(frozen=True, slots=True)
class Heard:
    """A callout was accepted. Several in one breath are several events, in order.

    start, end: when its words began and ended (not when decoding finished).
    channel: 0 pilot, 1 second crew member.
    """

    callout: str
    words: str
    start: float
    end: float
    confidence: float
    channel: int = 0


@dataclass(frozen=True, slots=True)
class Unclear:
    """Somebody spoke to us and it was not sure enough to act on.

    guess: keys of the callouts it most likely was, or empty.
    """

    start: float
    end: float
    guess: tuple[str, ...] = ()
    channel: int = 0


@dataclass(frozen=True, slots=True)
class Overheard:
    """Somebody spoke, and was taken for not speaking to us.

    It may have been a call about a timed lamp after all; nothing else cares.
    """

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """The fallback: a callout entered by hand at stream time `at`. by: "key" or "touch"."""

    callout: str
    at: float
    by: str = "key"


@dataclass(frozen=True, slots=True)
class Passed:
    """Time moved to `now` and nothing that began earlier is still undecided."""

    now: float


@dataclass(frozen=True, slots=True)
class Prompted:
    """One of our own prompts was audible from start to end."""

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Lost:
    """A part failed at stream time `at`."""

    part: Part
    at: float


@dataclass(frozen=True, slots=True)
class Restored:
    """A lost part is back."""

    part: Part
    at: float


@dataclass(frozen=True, slots=True)
class Ended:
    """The sound source ended or the program was told to stop; no more will come."""

    at: float
    reason: str


Event = (
    Began | Heard | Unclear | Overheard | KeyPressed | Passed | Prompted | Lost | Restored | Ended
)


def time_of(event: Event) -> float:
    """Stream time in seconds at which an event is over."""
    match event:
        case Began(now) | Passed(now):
            return now
        case KeyPressed() | Lost() | Restored() | Ended():
            return event.at
        case _:
            return event.end
