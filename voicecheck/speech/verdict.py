"""What the speech room says of one utterance: act, ask again, or ignore."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Spoken:
    """One callout inside an utterance.

    callout: key of the callout; words: the phrase as heard; start, end: seconds of
    audio-stream time at which those words began and ended; confidence: 0..1.
    """

    callout: str
    words: str
    start: float
    end: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Accepted:
    """Act: these callouts were said, in this order (one, or several in one breath)."""

    spoken: tuple[Spoken, ...]
    start: float
    end: float
    decided: float
    """Stream time at which the decision was possible (end of speech plus hang-over)."""


@dataclass(frozen=True, slots=True)
class Unclear:
    """Ask again: speech meant for us, perhaps, but not sure enough to act on.

    guess: the best callouts when they are likely enough to be asked about, else empty.
    """

    start: float
    end: float
    decided: float
    guess: tuple[Spoken, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class Ignored:
    """Nothing of ours: chatter, noise, a cough."""

    start: float
    end: float
    decided: float
    reason: str


Verdict = Accepted | Unclear | Ignored
