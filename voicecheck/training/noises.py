"""What lies between mouth and listener in a cockpit, on the accelerator, whole batches at a time.

The noises are the ones voicecheck/world/noise.py draws (airflow, blade tones) with everything
random that is fixed there, and whines of jets, gusts, other people and prompts besides.
"""

from __future__ import annotations

import math
from typing import Final

import torch
import torch.nn.functional as F
from torch import Tensor

RATE: Final = 16_000
GRAIN: Final = 4096
"""Lengths are rounded up to this: a Fourier transform of a new length is slow to prepare."""
_HARMONICS: Final = 14


def uniform(low: float, high: float, count: int, device: torch.device) -> Tensor:
    """`count` numbers between low and high."""
    return torch.empty(count, device=device).uniform_(low, high)


def unit(sound: Tensor) -> Tensor:
    """(batch, samples), each row at RMS 1."""
    return sound / (sound.pow(2).mean(1, keepdim=True).sqrt() + 1e-6)


def some(share: float, changed: Tensor, plain: Tensor) -> Tensor:
    """Each row changed with this probability, else plain."""
    return torch.where(torch.rand(len(plain), 1, device=plain.device) < share, changed, plain)


def decibels(value: Tensor) -> Tensor:
    """Levels in dB as factors, one a row."""
    return 10 ** (value / 20)[:, None]


def uneven(hertz: Tensor, count: int, spread: float, points: int = 8) -> Tensor:
    """(count, hertz) gains that wander smoothly over pitch; spread: dB, one standard deviation."""
    wander = torch.randn(count, 1, points, device=hertz.device) * spread
    wander = F.interpolate(wander, 64, mode="linear", align_corners=True)[:, 0]
    place = torch.log2((hertz + 50) / 50) / math.log2((RATE / 2 + 50) / 50) * 63
    place = place.clamp(0, 62.999)
    below, part = place.floor().long(), place - place.floor()
    return 10 ** ((wander[:, below] * (1 - part) + wander[:, below + 1] * part) / 20)


def shaped(sound: Tensor, gains: Tensor) -> Tensor:
    """Each row through its own gains over the frequencies of rfft."""
    return torch.fft.irfft(torch.fft.rfft(sound) * gains, sound.shape[1])


def cockpit(count: int, samples: int, device: torch.device) -> Tensor:
    """(count, samples) of noise at RMS 1."""
    hertz = torch.fft.rfftfreq(samples, 1 / RATE).to(device)
    slope = uniform(0, 2.2, count, device)[:, None] / 2
    gains = 1 / hertz.clamp(min=20)[None] ** slope
    gains = gains * some(0.6, uneven(hertz, count, 5.0), torch.ones(count, 1, device=device))
    air = unit(shaped(torch.randn(count, samples, device=device), gains))
    kind = torch.rand(count, 1, device=device)
    level = uniform(0.3, 1.6, count, device)[:, None]
    blades = unit(air + _blades(count, samples, device) * level)
    jet = unit(air + 0.5 * _whines(count, samples, device))
    sound = torch.where(kind < 0.45, blades, torch.where(kind < 0.6, jet, air))
    time = torch.arange(samples, device=device)[None] / RATE
    rate = uniform(0.2, 4, count, device)[:, None]
    start = uniform(0, 6.28, count, device)[:, None]
    gust = 1 + uniform(0, 0.6, count, device)[:, None] * torch.sin(6.283 * rate * time + start)
    return unit(some(0.3, sound * gust, sound))


def _blades(count: int, samples: int, device: torch.device) -> Tensor:
    time = torch.arange(samples, device=device)[None] / RATE
    depth = uniform(0, 0.012, count, device)[:, None]
    rate = uniform(0.05, 0.6, count, device)[:, None]
    start = uniform(0, 6.28, count, device)[:, None]
    drift = 1 + depth * torch.sin(6.283 * rate * time + start)
    first = uniform(35, 150, count, device)[:, None]
    phase = 6.283185 * first * torch.cumsum(drift, 1) / RATE
    fall = uniform(0.3, 1.6, count, device)[:, None]
    many = torch.randint(4, _HARMONICS + 1, (count, 1), device=device)
    sound = torch.zeros(count, samples, device=device)
    for order in range(1, _HARMONICS + 1):
        size = (order <= many) * uniform(0.5, 1.5, count, device)[:, None] / order**fall
        sound = sound + size * torch.sin(order * phase + uniform(0, 6.28, count, device)[:, None])
    return unit(sound)


def _whines(count: int, samples: int, device: torch.device) -> Tensor:
    time = torch.arange(samples, device=device)[None] / RATE
    sound = torch.zeros(count, samples, device=device)
    for _ in range(2):
        pitch = 6.283 * uniform(600, 6000, count, device)[:, None]
        size = torch.rand(count, 1, device=device)
        sound = sound + size * torch.sin(pitch * time * (1 + 5e-4 * torch.sin(3 * time)))
    return unit(sound)


def room(sound: Tensor) -> Tensor:
    """Reflections of a small hard room: decaying noise, 0.06 to 0.5 s."""
    count, device = len(sound), sound.device
    samples = int(0.4 * RATE)
    time = torch.arange(samples, device=device)[None] / RATE
    tail = torch.randn(count, samples, device=device)
    tail = tail * torch.exp(-6.9 * time / uniform(0.06, 0.5, count, device)[:, None])
    tail = tail * (time > 0.002)
    tail = tail / (tail.pow(2).sum(1, keepdim=True).sqrt() + 1e-6)
    tail = tail * decibels(-uniform(-2, 14, count, device))
    tail[:, 0] += 1
    total = -(-(sound.shape[1] + samples) // GRAIN) * GRAIN
    spectrum = torch.fft.rfft(sound, total) * torch.fft.rfft(tail, total)
    return torch.fft.irfft(spectrum, total)[:, : sound.shape[1]]


def microphone(sound: Tensor) -> Tensor:
    """A microphone's own colour."""
    hertz = torch.fft.rfftfreq(sound.shape[1], 1 / RATE).to(sound.device)
    return shaped(sound, uneven(hertz, len(sound), 4.0, 6))


def band(sound: Tensor) -> Tensor:
    """The band of an intercom (300 to 3,400 Hz), or of something better, without sharp edges."""
    count, device = len(sound), sound.device
    hertz = torch.fft.rfftfreq(sound.shape[1], 1 / RATE).to(device)[None]
    narrow = torch.rand(count, 1, device=device) < 0.4
    low = torch.where(
        narrow,
        uniform(250, 350, count, device)[:, None],
        uniform(40, 250, count, device)[:, None],
    )
    high = torch.where(
        narrow,
        uniform(3000, 3700, count, device)[:, None],
        uniform(3200, 8000, count, device)[:, None],
    )
    gains = torch.sigmoid((hertz - low) / 30) * torch.sigmoid((high - hertz) / 120)
    return shaped(sound, gains)
