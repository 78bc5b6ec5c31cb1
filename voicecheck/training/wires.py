"""What a wire or a radio does to speech, on the accelerator, whole batches at a time."""

from __future__ import annotations

import math
from typing import Final

import torch
import torch.nn.functional as F
from torch import Tensor

from voicecheck.training.noises import RATE, decibels, shaped, uniform, unit

_WINDOW: Final = 512
_STEP: Final = 128
_STEEPNESS: Final = 255.0
"""Of the law by which a telephone rounds (ITU-T G.711, mu-law)."""


def coarse(sound: Tensor) -> Tensor:
    """Eight bits with a logarithmic scale, as telephones have them, or fewer."""
    peak = sound.abs().amax(1, keepdim=True).clamp(min=1e-6)
    steps = 2 ** uniform(5, 7, len(sound), sound.device)[:, None].round()
    x = sound / peak
    small = x.sign() * torch.log1p(_STEEPNESS * x.abs()) / math.log1p(_STEEPNESS)
    small = (small * steps).round() / steps
    return small.sign() * torch.expm1(small.abs() * math.log1p(_STEEPNESS)) / _STEEPNESS * peak


def thinned(sound: Tensor) -> Tensor:
    """What is weak beside something loud is left out, as a sparing codec does."""
    count, samples = sound.shape
    window = torch.hann_window(_WINDOW, device=sound.device)
    spectra = torch.stft(sound, _WINDOW, _STEP, window=window, return_complex=True)
    size = spectra.abs()
    loud = F.max_pool1d(size.transpose(1, 2).reshape(-1, 1, size.shape[1]), 41, 1, 20)
    loud = loud.reshape(count, -1, size.shape[1]).transpose(1, 2)
    depth = decibels(-uniform(14, 32, count, sound.device))[..., None]
    return torch.istft(
        spectra * (size > loud * depth), _WINDOW, _STEP, window=window, length=samples
    )


def levelled(sound: Tensor) -> Tensor:
    """An automatic gain: what is quiet is lifted, noise in pauses too."""
    count = len(sound)
    power = F.avg_pool1d(sound.pow(2)[:, None], 801, 160, 400)
    power = F.interpolate(power, sound.shape[1], mode="linear")[:, 0]
    share = uniform(0.2, 0.7, count, sound.device)[:, None]
    return unit(sound / (power.sqrt() + 0.02 * unit(sound).std()).clamp(min=1e-4) ** share)


def broken(sound: Tensor) -> Tensor:
    """One to three gaps of 8 to 35 ms."""
    count, samples = sound.shape
    time = torch.arange(samples, device=sound.device)[None]
    kept = torch.ones_like(sound)
    for number in range(3):
        start = uniform(0, samples, count, sound.device)[:, None]
        size = uniform(0.008, 0.035, count, sound.device)[:, None] * RATE
        there = torch.rand(count, 1, device=sound.device) < 1 / (1 + number)
        kept = torch.where(there & (time >= start) & (time < start + size), 0.0, kept)
    return sound * kept


def radio(people: Tensor) -> Tensor:
    """Others over a radio: a narrow band, driven hard, hiss and crackle while it is open; RMS 1."""
    count, samples = people.shape
    device = people.device
    hertz = torch.fft.rfftfreq(samples, 1 / RATE).to(device)[None]
    low = uniform(250, 500, count, device)[:, None]
    high = uniform(2300, 3200, count, device)[:, None]
    gains = torch.sigmoid((hertz - low) / 30) * torch.sigmoid((high - hertz) / 60)
    hiss = torch.randn_like(people) * decibels(-uniform(6, 25, count, device))
    hit = torch.rand_like(people) < uniform(0, 0.0008, count, device)[:, None]
    crackle = torch.randn_like(people) * hit * 8
    driven = torch.tanh(shaped(people + crackle, gains) * decibels(uniform(0, 14, count, device)))
    time = torch.arange(samples, device=device)[None] / samples
    begin = uniform(-0.6, 0.6, count, device)[:, None]
    opened = (time > begin) & (time < begin + uniform(0.4, 1.2, count, device)[:, None])
    return unit(shaped(driven + hiss, gains) * opened)
