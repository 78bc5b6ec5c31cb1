"""The encoder of Moonshine base in torch: sound to 41.7 vectors a second, all layers told.

After the published architecture (Jeffries and others, 2024; names from memory): three strided
convolutions over the waveform, then eight transformer layers with rotary positions.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from voicecheck.training.published import LAYERS, published_encoder

WIDTH: Final = 416
_HEADS: Final = 8
_INNER: Final = 4 * WIDTH
_TURNED: Final = 32
"""Dimensions of each head that carry the position."""


class Norm(nn.Module):
    """Layer norm without a bias."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.weight = nn.Parameter(torch.ones(width))

    def forward(self, x: Tensor) -> Tensor:
        """(..., width) -> the same."""
        return F.layer_norm(x, (self.weight.shape[0],), self.weight, None, 1e-5)


def attention(query: Tensor, key: Tensor, value: Tensor) -> Tensor:
    """Over all frames; (batch, heads, time, size) each."""
    if torch.onnx.is_in_onnx_export():
        weights = (query * query.shape[-1] ** -0.5) @ key.transpose(-1, -2)
        return torch.softmax(weights, -1) @ value
    return F.scaled_dot_product_attention(query, key, value)


class Layer(nn.Module):
    """Attention, then a wide inner layer."""

    def __init__(self) -> None:
        super().__init__()
        self.before, self.between = Norm(WIDTH), Norm(WIDTH)
        self.query, self.key, self.value, self.out = (
            nn.Linear(WIDTH, WIDTH, bias=False) for _ in range(4)
        )
        self.up, self.down = nn.Linear(WIDTH, _INNER), nn.Linear(_INNER, WIDTH)

    def forward(self, x: Tensor, cos: Tensor, sin: Tensor) -> Tensor:
        """x: (batch, time, WIDTH); cos, sin: (time, _TURNED)."""
        batch, time, _ = x.shape
        y = self.before(x)
        query, key, value = (
            part(y).view(batch, time, _HEADS, WIDTH // _HEADS).transpose(1, 2)
            for part in (self.query, self.key, self.value)
        )
        told = attention(_turned(query, cos, sin), _turned(key, cos, sin), value)
        x = x + self.out(told.transpose(1, 2).reshape(batch, time, WIDTH))
        return x + self.down(F.gelu(self.up(self.between(x))))


def _turned(x: Tensor, cos: Tensor, sin: Tensor) -> Tensor:
    turned, rest = x[..., :_TURNED], x[..., _TURNED:]
    across = torch.stack((-turned[..., 1::2], turned[..., 0::2]), -1).flatten(-2)
    return torch.cat((turned * cos + across * sin, rest), -1)


class Encoder(nn.Module):
    """Waveform to vectors."""

    def __init__(self) -> None:
        super().__init__()
        self.conv1 = nn.Conv1d(1, WIDTH, 127, 64, bias=False)
        self.norm = nn.GroupNorm(1, WIDTH, eps=1e-5)
        self.conv2 = nn.Conv1d(WIDTH, 2 * WIDTH, 7, 3)
        self.conv3 = nn.Conv1d(2 * WIDTH, WIDTH, 3, 2)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.final = Norm(WIDTH)
        self.register_buffer("frequencies", torch.ones(_TURNED // 2))

    def forward(self, sound: Tensor) -> tuple[list[Tensor], Tensor]:
        """sound: (batch, samples) at 16 kHz, -1 to 1. All layers' vectors, and the last normed."""
        x = self.norm(torch.tanh(self.conv1(sound[:, None])))
        x = F.gelu(self.conv3(F.gelu(self.conv2(x)))).transpose(1, 2)
        places = torch.arange(x.shape[1], device=x.device, dtype=torch.float32)
        frequencies: Any = self.frequencies
        angles = places[:, None] * frequencies.float()[None]
        angles = torch.stack((angles, angles), -1).flatten(-2)
        cos, sin = angles.cos().to(x.dtype), angles.sin().to(x.dtype)
        told = [x]
        for layer in self.layers:
            x = layer(x, cos, sin)
            told.append(x)
        return told, self.final(x)


def pretrained(path: Path) -> Encoder:
    """With the published weights; path as in published_encoder."""
    encoder = Encoder()
    arrays = {name: torch.from_numpy(a.copy()) for name, a in published_encoder(path).items()}
    encoder.load_state_dict(arrays)
    return encoder
