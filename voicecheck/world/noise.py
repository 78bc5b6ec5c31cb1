"""Noise of a cockpit: broadband airflow and the tones of a propeller, from a seed."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.world.synthesis import LEVEL_DBFS

NoiseName = Literal["pink", "propeller"]
PIECE: Final = 60 * RATE
"""Samples made at a time."""
FADE: Final = RATE // 50
"""Samples over which one piece fades into the next: 20 ms, so that nothing clicks."""
_STRIDE: Final = 1_000_003
"""Between the seeds of two pieces; more than the sessions of any proof."""
_BLADE_HERTZ: Final = 92.0
"""Blade passage of a four-blade propeller at 1380 rpm (common practice, no source)."""
_HARMONICS: Final = 12


def noise(name: NoiseName, count: int, seed: int) -> NDArray[np.float64]:
    """`count` samples at 16 kHz with RMS 1. pink: 1/f power; propeller: tones over pink."""
    random = np.random.default_rng(seed)
    pink = _pink(count, random)
    if name == "pink":
        return pink
    time = np.arange(count) / RATE
    drift = 1 + 0.004 * np.sin(2 * np.pi * 0.13 * time + random.uniform(0, 6))
    phase = 2 * np.pi * _BLADE_HERTZ * np.cumsum(drift) / RATE
    tones = sum(
        np.sin(order * phase + random.uniform(0, 2 * np.pi)) / order**0.8
        for order in range(1, _HARMONICS + 1)
    )
    return _unit(0.7 * _unit(np.asarray(tones)) + 0.7 * pink)


def _pink(count: int, random: np.random.Generator) -> NDArray[np.float64]:
    spectrum = np.fft.rfft(random.standard_normal(count))
    hertz = np.fft.rfftfreq(count, 1 / RATE)
    spectrum /= np.sqrt(np.maximum(hertz, 20.0))  # flat below 20 Hz, which nobody hears
    return _unit(np.fft.irfft(spectrum, count))


def _unit(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    rms = float(np.sqrt(np.mean(sound**2)))
    return sound / rms if rms else sound


class Unending:
    """Noise as long as a session lasts, `db` below the level of every utterance.

    The same seed gives the same noise. piece, fade: samples, as PIECE and FADE.
    """

    def __init__(
        self, name: NoiseName, db: float, seed: int, *, piece: int = PIECE, fade: int = FADE
    ) -> None:
        self._piece_of, self._fade = piece, fade
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
        fresh = (
            noise(self._name, self._piece_of + self._fade, self._seed + self._made * _STRIDE)
            * self._level
        )
        self._made += 1
        if self._tail.size:
            # Unlike noises add by power: sine and cosine keep the level where they meet.
            turn = np.linspace(0, np.pi / 2, self._fade)
            fresh[: self._fade] = fresh[: self._fade] * np.sin(turn) + self._tail * np.cos(turn)
        self._tail = fresh[self._piece_of :].copy()
        return fresh[: self._piece_of]
