"""From the encoder's vectors to phones: 83.3 frames a second, a few conformer blocks."""

from __future__ import annotations

from typing import Final

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from voicecheck.training.encoder import WIDTH, Encoder, attention
from voicecheck.training.published import LAYERS

CLASSES: Final = 40
"""39 phones and the blank, as voicecheck.speech.ctc has them."""
FRAMES_PER_SECOND: Final = 16_000 / 192
_SIZE: Final = 256
_BLOCKS: Final = 3
_HEADS: Final = 4
_KERNEL: Final = 15


class Inner(nn.Module):
    """The feed-forward half of a block."""

    def __init__(self, size: int, drop: float) -> None:
        super().__init__()
        self.norm = nn.LayerNorm(size)
        self.up, self.down = nn.Linear(size, 4 * size), nn.Linear(4 * size, size)
        self.drop = nn.Dropout(drop)

    def forward(self, x: Tensor) -> Tensor:
        """(batch, time, size) -> the same."""
        return self.drop(self.down(self.drop(F.silu(self.up(self.norm(x))))))


class Block(nn.Module):
    """A conformer block (Gulati and others, 2020) with a layer norm in its convolution."""

    def __init__(self, size: int, drop: float) -> None:
        super().__init__()
        self.first, self.second = Inner(size, drop), Inner(size, drop)
        self.before, self.joint = nn.LayerNorm(size), nn.Linear(size, 3 * size)
        self.out = nn.Linear(size, size)
        self.near, self.gate = nn.LayerNorm(size), nn.Linear(size, 2 * size)
        self.depthwise = nn.Conv1d(size, size, _KERNEL, padding=_KERNEL // 2, groups=size)
        self.between, self.back = nn.LayerNorm(size), nn.Linear(size, size)
        self.last = nn.LayerNorm(size)
        self.drop = nn.Dropout(drop)

    def forward(self, x: Tensor) -> Tensor:
        """(batch, time, size) -> the same."""
        batch, time, size = x.shape
        x = x + 0.5 * self.first(x)
        joint = self.joint(self.before(x)).view(batch, time, 3, _HEADS, size // _HEADS)
        query, key, value = joint.permute(2, 0, 3, 1, 4).unbind(0)
        told = attention(query, key, value).transpose(1, 2).reshape(batch, time, size)
        x = x + self.drop(self.out(told))
        y = F.glu(self.gate(self.near(x)), -1)
        y = self.depthwise(y.transpose(1, 2)).transpose(1, 2)
        x = x + self.drop(self.back(F.silu(self.between(y))))
        return self.last(x + 0.5 * self.second(x))


class Head(nn.Module):
    """A learnt mean of all layers, twice as many frames, blocks, phones."""

    def __init__(self, drop: float = 0.1) -> None:
        super().__init__()
        self.mix = nn.Parameter(torch.zeros(LAYERS + 2))
        self.wider = nn.Linear(WIDTH, 2 * _SIZE)
        self.blocks = nn.ModuleList(Block(_SIZE, drop) for _ in range(_BLOCKS))
        self.phones = nn.Linear(_SIZE, CLASSES)

    def forward(self, layers: list[Tensor], last: Tensor) -> Tensor:
        """(batch, time, WIDTH) each -> (batch, 2 time, CLASSES) logarithms of probability."""
        shares = torch.softmax(self.mix, 0)
        x = shares[LAYERS + 1] * last
        for at, layer in enumerate(layers):
            x = x + shares[at] * F.layer_norm(layer, (WIDTH,))
        batch, time, _ = x.shape
        x = self.wider(x).view(batch, 2 * time, _SIZE)
        for block in self.blocks:
            x = block(x)
        return torch.log_softmax(self.phones(x).float(), -1)


class Listener(nn.Module):
    """Encoder and head."""

    def __init__(self, encoder: Encoder, head: Head) -> None:
        super().__init__()
        self.encoder, self.head = encoder, head

    def forward(self, sound: Tensor) -> Tensor:
        """(batch, samples) at 16 kHz -> (batch, frames, CLASSES) logarithms of probability."""
        layers, last = self.encoder(sound)
        posteriors: Tensor = self.head(layers, last)
        return posteriors
