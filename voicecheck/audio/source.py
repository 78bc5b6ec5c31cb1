"""What a source of sound yields: blocks of samples, and the news that it failed or came back.

Inside voicecheck sound is 16 kHz, 16-bit. Stream time is the number of samples yielded
so far divided by ``RATE``; every source keeps that count true to the time that passed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.int16]

RATE: Final = 16_000
"""Hertz; the one rate used behind a source."""
BLOCK: Final = 320
"""Samples in a block: 20 ms. Only the last block of a recording may be shorter."""

Channels = Literal[1, 2]


@dataclass(frozen=True, slots=True)
class Block:
    """Up to 20 ms of sound.

    samples: 1-D int16 at 16 kHz; the pilot's channel, or all channels mixed.
    second: the second crew member's channel, the same length, when two were asked for.
    """

    samples: Samples
    second: Samples | None = None

    def __len__(self) -> int:
        return len(self.samples)

    @property
    def mixed(self) -> Samples:
        """Both channels as one, each at half level so that the sum cannot clip."""
        if self.second is None:
            return self.samples
        both = self.samples.astype(np.int32) + self.second.astype(np.int32)
        return (both // 2).astype(np.int16)


@dataclass(frozen=True, slots=True)
class SourceLost:
    """The source stopped giving sound; silent blocks follow so that stream time runs on."""

    reason: str


@dataclass(frozen=True, slots=True)
class SourceRestored:
    """Sound flows again. away: seconds without sound, already yielded as silence."""

    away: float


@dataclass(frozen=True, slots=True)
class SoundDropped:
    """Sound was lost on its way, so many times; silence of its length stands in its place."""

    times: int


Item = Block | SourceLost | SourceRestored | SoundDropped


class AudioSource(Protocol):
    """Anything that can be listened to."""

    @property
    def channels(self) -> Channels:
        """1: blocks carry one channel; 2: pilot and second crew member."""

    @property
    def name(self) -> str:
        """For the record: a file's name or a device's name."""

    def blocks(self) -> Iterator[Item]:
        """Yield sound in order until it ends or `stop` is called."""

    def stop(self) -> None:
        """End `blocks` soon; safe from any thread, and twice."""


def in_blocks(lanes: NDArray[np.int16]) -> Iterator[Block]:
    """Cut samples of shape (n, 1 or 2) into blocks; the last one may be shorter."""
    for begin in range(0, len(lanes), BLOCK):
        part = lanes[begin : begin + BLOCK]
        pilot = np.ascontiguousarray(part[:, 0])
        yield Block(pilot, np.ascontiguousarray(part[:, 1]) if part.shape[1] == 2 else None)
