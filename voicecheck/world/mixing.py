"""Speech over cockpit noise at a stated ratio."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.world.noise import NoiseName, noise

_ACTIVE: Final = 100.0
"""Samples whose size is below this (-50 dBFS) are pauses, left out of the speech level."""


def audible(sound: NDArray[np.int16]) -> NDArray[np.int16]:
    """Speech without what nobody hears at its ends: breath and hiss of a recorded voice.

    From the first to the last 10 ms within 35 dB of the loudest.
    """
    frame = RATE // 100
    count = sound.size // frame
    if count == 0:
        return sound
    power = np.mean(sound[: count * frame].astype(np.float64).reshape(count, frame) ** 2, axis=1)
    loud = np.flatnonzero(power > power.max() / 10**3.5)
    return sound[loud[0] * frame : (loud[-1] + 1) * frame] if loud.size else sound


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
