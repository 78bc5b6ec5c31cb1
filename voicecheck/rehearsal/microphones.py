"""Where a simulated crew's voices reach the microphones: one for both people, or one each."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE, Block, Samples
from voicecheck.rehearsal.unending import Unending

QUIET_DB: Final = 50.0
"""Noise of a quiet room, so far below speech."""
LEAK_DB: Final = 15.0
"""Decibels by which a voice is weaker at the other's microphone (our choice, no source)."""
_OTHER_NOISE: Final = 31 * RATE
"""Between the seeds of two microphones: each has a noise of its own."""


class Microphones:
    """One or two microphones with pink noise, as the blocks of a session.

    noise_db: speech over noise in dB at the speaker's own microphone; None: a quiet room.
    """

    def __init__(self, channels: int, noise_db: float | None, seed: int) -> None:
        db = QUIET_DB if noise_db is None else noise_db
        self._noises = [Unending("pink", db, seed + n * _OTHER_NOISE) for n in range(channels)]

    def take(self, spoken: NDArray[np.int16], who: int | None) -> Block:
        """A block of BLOCK samples. who: whose voice; None: somebody's between the two."""
        made = [
            _clipped(spoken * _share(channel, who, len(self._noises)) + noise.take(BLOCK))
            for channel, noise in enumerate(self._noises)
        ]
        return Block(made[0], made[1] if len(made) > 1 else None)


def _share(channel: int, who: int | None, channels: int) -> float:
    """The part of a voice's level that reaches a microphone."""
    near = channels == 1 or channel == who
    return 1.0 if near else float(10 ** (-LEAK_DB / 20))


def _clipped(mixed: NDArray[np.float64]) -> Samples:
    return np.clip(np.rint(mixed), -32768, 32767).astype(np.int16)
