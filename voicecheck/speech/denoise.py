"""A Wiener front end for the grammar decoder, whose features know nothing of noise.

Decision-directed a-priori SNR after Ephraim & Malah (1984), with a gain floor, then a
little pink noise laid back: without it the filter leaves digital silence, which the
decoder's model never met and which ruins clean speech.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

WINDOW: Final = 512
HOP: Final = 128
SMOOTHING: Final = 0.96
FLOOR: Final = 0.1
RELAID: Final = 2e-3
"""Root mean square of the noise laid back, full scale 1."""
QUIET_SHARE: Final = 0.2
"""The quietest fifth of the frames is taken for noise alone."""


def denoise(samples: NDArray[np.int16]) -> NDArray[np.int16]:
    """Speech with steady noise reduced; same length, same rate. Deterministic."""
    if samples.size < 2 * WINDOW:
        return samples
    sound = samples.astype(np.float64) / 32768
    window = np.sqrt(np.hanning(WINDOW + 1)[:-1])
    padded = np.pad(sound, (WINDOW, WINDOW + (-sound.size) % HOP))
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[::HOP] * window
    spectra = np.fft.rfft(frames, axis=1)
    power = np.abs(spectra) ** 2 + 1e-12
    gains = _gains(power)
    clean = np.fft.irfft(spectra * gains, WINDOW, axis=1) * window
    joined = np.zeros(padded.size)
    for index, frame in enumerate(clean):
        joined[index * HOP : index * HOP + WINDOW] += frame
    joined *= HOP * 2 / WINDOW
    result = joined[WINDOW : WINDOW + sound.size] + RELAID * _pink(sound.size)
    return np.clip(np.round(result * 32768), -32768, 32767).astype(np.int16)


def _gains(power: NDArray[np.float64]) -> NDArray[np.float64]:
    inner = power[4:-4] if len(power) > 12 else power  # the padding is not noise
    loudness = inner.sum(axis=1)
    quiet = inner[loudness <= np.quantile(loudness, QUIET_SHARE)]
    noise = quiet.mean(axis=0) + 1e-12
    gains = np.empty_like(power)
    before = np.ones(power.shape[1])
    for index, frame in enumerate(power):
        posterior = frame / noise
        prior = SMOOTHING * before + (1 - SMOOTHING) * np.maximum(posterior - 1, 0)
        gain = np.maximum(prior / (1 + prior), FLOOR)
        before = gain**2 * posterior
        gains[index] = gain
    return gains


def _pink(count: int) -> NDArray[np.float64]:
    spectrum = np.fft.rfft(np.random.default_rng(1).standard_normal(count))
    spectrum /= np.sqrt(np.maximum(np.arange(spectrum.size), 1))
    noise = np.fft.irfft(spectrum, count)
    scale: float = float(np.sqrt(np.mean(noise**2))) or 1.0
    return np.asarray(noise / scale, dtype=np.float64)
