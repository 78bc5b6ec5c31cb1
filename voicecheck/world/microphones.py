"""Where voices reach the microphones: one for everybody, or one for each of two people."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE, Block
from voicecheck.world.noise import Unending

QUIET_DB: Final = 50.0
"""Noise of a quiet room, so far below speech."""
LEAK_DB: Final = 15.0
"""Decibels by which a voice is weaker at the other's microphone (our choice, no source)."""
_OTHER_NOISE: Final = 31 * RATE
"""Between the seeds of two microphones: each has a noise of its own."""


class Microphones:
    """The blocks of a session. noises: one for each microphone, one or two."""

    def __init__(self, *noises: Unending) -> None:
        self._noises = noises

    def take(self, spoken: NDArray[np.int16], who: int | None) -> Block:
        """The next block. spoken: up to BLOCK samples; who: whose; None: between the two."""
        whole = np.pad(spoken, (0, BLOCK - len(spoken)))
        made = [
            clipped(whole * self._share(channel, who) + noise.take(BLOCK))
            for channel, noise in enumerate(self._noises)
        ]
        return Block(*made)

    def _share(self, channel: int, who: int | None) -> float:
        """The part of a voice's level that reaches a microphone."""
        near = len(self._noises) == 1 or channel == who
        return 1.0 if near else float(10 ** (-LEAK_DB / 20))


def in_pink_noise(channels: int, noise_db: float | None, seed: int) -> Microphones:
    """So many microphones. noise_db: speech over noise in dB, each at its own; None: quiet."""
    db = QUIET_DB if noise_db is None else noise_db
    return Microphones(*(Unending("pink", db, seed + n * _OTHER_NOISE) for n in range(channels)))


def clipped(mixed: NDArray[np.float64]) -> NDArray[np.int16]:
    """Samples of 16 bits, whatever was added up."""
    return np.clip(np.rint(mixed), -32768, 32767).astype(np.int16)
