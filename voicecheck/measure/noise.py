"""Noise of a cockpit: broadband airflow and the tones of a propeller, from a seed."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE

NoiseName = Literal["pink", "propeller"]
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
