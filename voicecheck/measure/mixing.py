"""Speech over cockpit noise at a stated ratio."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.measure.noise import NoiseName, noise

_ACTIVE: Final = 100.0
"""Samples whose size is below this (-50 dBFS) are pauses, left out of the speech level."""


def mixed(
    speech: NDArray[np.int16],
    decibels: float | None,
    seed: int,
    kind: NoiseName = "propeller",
) -> NDArray[np.int16]:
    """Speech plus noise, 16 kHz; decibels: active speech level over noise level, None: clean.

    Full scale is kept by turning both down, so that nothing is clipped.
    """
    if decibels is None:
        return speech
    samples = speech.astype(np.float64)
    active = samples[np.abs(samples) > _ACTIVE]
    level = float(np.sqrt(np.mean(active**2))) if active.size else 1000.0
    sound = samples + noise(kind, samples.size, seed) * level / 10 ** (decibels / 20)
    peak = float(np.max(np.abs(sound), initial=1.0))
    return np.rint(sound * min(1.0, 32000 / peak)).astype(np.int16)
