"""Speech at known places of one stream of sound, in noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.world.microphones import clipped
from voicecheck.world.noise import noise

GAP: Final = 1.5
"""Seconds of quiet around what belongs together."""
LEVEL: Final = 2300.0
"""RMS of the speech over its whole length, as the synthetic talkers are brought to."""
NOISES: Final[tuple[float | None, ...]] = (None, 20.0, 10.0, 5.0)
"""Speech over noise in dB; None: none."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Speech at seconds `start` to `end` of a stream; pause: seconds of quiet inside it."""

    text: str
    start: float
    end: float
    pause: float = 0.0


class Stream:
    """Sound that grows. odd: samples by which each rest is longer than the one before.

    So speech ends anywhere within a block of the detector. first: how often in the first rest.
    """

    def __init__(self, odd: int, first: int) -> None:
        self._pieces = [np.zeros(int(GAP * RATE), np.int16)]
        self._odd, self._first = odd, first
        self.placed: list[Placed] = []

    def put(
        self, text: str, sound: NDArray[np.int16], rest: float = GAP, *, pause: float = 0.0
    ) -> None:
        """Add speech, and seconds of quiet after it."""
        at = sum(piece.size for piece in self._pieces)
        self.placed.append(Placed(text, at / RATE, (at + sound.size) / RATE, pause))
        odd = self._odd * (len(self.placed) - 1 + self._first)
        self._pieces += [sound, np.zeros(int(rest * RATE) + odd, np.int16)]

    def mixed(self, decibels: float | None, seed: int) -> NDArray[np.int16]:
        """All of it over propeller noise."""
        clean = np.concatenate(self._pieces)
        if decibels is None:
            return clean
        scale = LEVEL / 10 ** (decibels / 20)
        return clipped(clean + noise("propeller", clean.size, seed) * scale)


def spread(seconds: Sequence[float], *percentiles: float) -> tuple[int | None, ...]:
    """Percentiles in whole milliseconds; None for each where nothing was measured."""
    if not seconds:
        return (None,) * len(percentiles)
    return tuple(round(float(p)) for p in np.percentile(1000 * np.asarray(seconds), percentiles))


def label(decibels: float | None) -> str:
    """A noise as the tables name it."""
    return "clean" if decibels is None else f"{decibels:g} dB"
