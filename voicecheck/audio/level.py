"""How loud the crew is, in words.

Levels are dB below full scale with a full-scale square wave at 0 (dBov, ITU-T G.100.1), so
a full-scale sine reads -3.0. Speech is commonly recorded near -26; the thresholds leave
room about that. They are this program's choice, not a published limit:

    clipping    3 or more samples in a row at full scale
    nothing     the loudest sample is below -60: muted, unplugged or the wrong microphone
    too quiet   the loudest tenth of the 20 ms frames averages below -40
    good        otherwise
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, Samples
from voicecheck.words import say

CLIPPED_RUN: Final = 3
NOTHING_BELOW: Final = -60.0
TOO_QUIET_BELOW: Final = -40.0
_FLOOR: Final = -96.3
"""dB of half a 16-bit step: what digital silence is shown as."""
_LOUD_SHARE: Final = 0.1


class Loudness(enum.StrEnum):
    """What to tell the crew."""

    NOTHING = "nothing"
    TOO_QUIET = "too quiet"
    GOOD = "good"
    CLIPPING = "clipping"


@dataclass(frozen=True, slots=True)
class Level:
    """speech, peak: dB below full scale; clipped: samples in runs at full scale."""

    speech: float
    peak: float
    clipped: int

    @property
    def loudness(self) -> Loudness:
        """The word for it; thresholds are in the module's description."""
        if self.clipped:
            return Loudness.CLIPPING
        if self.peak < NOTHING_BELOW:
            return Loudness.NOTHING
        if self.speech < TOO_QUIET_BELOW:
            return Loudness.TOO_QUIET
        return Loudness.GOOD

    def in_words(self) -> str:
        """One line for the crew, with the figures behind the word."""
        kind = self.loudness.replace(" ", "-")
        speech, peak = f"{self.speech:.0f}", f"{self.peak:.0f}"
        told = say("level-told", loudness=say(f"level-{kind}"), speech=speech, peak=peak)
        if self.loudness is Loudness.GOOD:
            return told
        advice = say(f"advice-{kind}")
        return f"{told}: {advice}"


class LevelMeter:
    """Gathers blocks and tells their level; memory grows by 8 bytes every 20 ms."""

    def __init__(self) -> None:
        self._powers: list[float] = []
        self._peak = 0
        self._clipped = 0
        self._run = 0

    def add(self, samples: Samples) -> None:
        """Take in more sound (1-D int16, 16 kHz)."""
        wide = samples.astype(np.float64)
        for begin in range(0, len(wide), BLOCK):
            frame = wide[begin : begin + BLOCK]
            self._powers.append(float(np.mean(frame * frame)))
        if len(samples):
            self._peak = max(self._peak, int(np.abs(wide).max()))
            self._count_clipping((samples >= 32767) | (samples <= -32768))

    def level(self) -> Level:
        """The level of all that was added since the start or the last `clear`."""
        if not self._powers:
            return Level(_FLOOR, _FLOOR, 0)
        loudest = sorted(self._powers, reverse=True)
        loudest = loudest[: max(1, math.ceil(len(loudest) * _LOUD_SHARE))]
        speech = 10 * math.log10(max(sum(loudest) / len(loudest), 0.25) / 32768**2)
        peak = 20 * math.log10(max(self._peak, 0.5) / 32768)
        return Level(speech, peak, self._clipped)

    def clear(self) -> None:
        """Begin again."""
        self._powers.clear()
        self._peak = self._clipped = self._run = 0

    def _count_clipping(self, full: NDArray[np.bool_]) -> None:
        # A run may go on across blocks; it counts in whole once it is long enough.
        for hit in full.tolist() if full.any() or self._run else ():
            self._run = self._run + 1 if hit else 0
            if self._run == CLIPPED_RUN:
                self._clipped += CLIPPED_RUN
            elif self._run > CLIPPED_RUN:
                self._clipped += 1


def level_of(samples: Samples) -> Level:
    """The level of one stretch of sound."""
    meter = LevelMeter()
    meter.add(samples)
    return meter.level()
