"""Noise for as long as a session lasts, made a minute at a time."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.measure.noise import NoiseName, noise
from voicecheck.measure.synthesis import LEVEL_DBFS

PIECE: Final = 60 * RATE
"""Samples made at a time."""
FADE: Final = RATE // 50
"""Samples over which one piece fades into the next: 20 ms, so that nothing clicks."""
_STRIDE: Final = 1_000_003
"""Between the seeds of two pieces; more than the sessions of any proof."""


class Unending:
    """Noise `db` below the level of every utterance. The same seed gives the same noise."""

    def __init__(self, name: NoiseName, db: float, seed: int) -> None:
        self._name = name
        self._level = 32768 * 10 ** ((LEVEL_DBFS - db) / 20)
        self._seed = seed
        self._made = 0
        self._tail = np.zeros(0)
        self._left = np.zeros(0)

    def take(self, count: int) -> NDArray[np.float64]:
        """The next `count` samples at 16 kHz, in units of one step of 16 bits."""
        while self._left.size < count:
            self._left = np.concatenate([self._left, self._piece()])
        taken, self._left = self._left[:count], self._left[count:]
        return taken

    def _piece(self) -> NDArray[np.float64]:
        fresh = noise(self._name, PIECE + FADE, self._seed + self._made * _STRIDE) * self._level
        self._made += 1
        if self._tail.size:
            # Unlike noises add by power: sine and cosine keep the level where they meet.
            turn = np.linspace(0, np.pi / 2, FADE)
            fresh[:FADE] = fresh[:FADE] * np.sin(turn) + self._tail * np.cos(turn)
        self._tail = fresh[PIECE:].copy()
        return fresh[:PIECE]
