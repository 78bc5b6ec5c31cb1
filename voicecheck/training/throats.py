"""More throats out of few: the resonances of a voice moved, while its pitch stays.

The envelope of each short spectrum (its cepstrum's slow part) is stretched over pitch and wavers a
little; the harmonics stay. Together with playing faster or slower, which moves both, pitch and
resonances go their own ways, and vowels wander as they do from speaker to speaker.
"""

from __future__ import annotations

import math
from typing import Final

import torch
from torch import Tensor

from voicecheck.training.noises import uniform

_WINDOW: Final = 512
_STEP: Final = 128
_SLOW: Final = 28
"""Cepstral numbers that are the envelope: pitches under 570 Hz stay out of it."""
_STRETCH: Final = (0.84, 1.2)
_WAVER: Final = 0.05


def throat(sound: Tensor) -> Tensor:
    """(batch, samples), each row with resonances of its own."""
    count, samples = sound.shape
    device = sound.device
    window = torch.hann_window(_WINDOW, device=device)
    spectra = torch.stft(sound, _WINDOW, _STEP, window=window, return_complex=True)
    level = (spectra.abs() + 1e-4).log()
    slow = torch.fft.irfft(level, dim=1)
    slow[:, _SLOW : _WINDOW - _SLOW + 1] = 0
    envelope = torch.fft.rfft(slow, dim=1).real
    below, part = _places_of(count, envelope.shape[1], device)
    moved = envelope.gather(1, below.expand_as(envelope)) * (1 - part)
    moved = moved + envelope.gather(1, (below + 1).expand_as(envelope)) * part
    changed = spectra * (moved - envelope).clamp(-4, 4).exp()
    return torch.istft(changed, _WINDOW, _STEP, window=window, length=samples)


def _places_of(count: int, bins: int, device: torch.device) -> tuple[Tensor, Tensor]:
    """Where each bin's envelope comes from: (count, bins, 1) whole numbers and fractions."""
    place = torch.linspace(0, 1, bins, device=device)[None]
    stretch = uniform(*_STRETCH, count, device)[:, None]
    waver = uniform(-_WAVER, _WAVER, count, device)[:, None]
    start = uniform(0, 2 * math.pi, count, device)[:, None]
    turns = uniform(1.5, 4, count, device)[:, None] * 2 * math.pi
    from_where = place / stretch * (1 + waver * torch.sin(turns * place + start))
    at = (from_where * (bins - 1)).clamp(0, bins - 1.001)[..., None]
    below = at.floor().long()
    return below, at - below
