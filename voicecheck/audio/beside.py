"""A voice made by this program on a channel of its own, beside a microphone or a recording."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

import numpy as np

from voicecheck.audio.source import AudioSource, Block, Channels, Item, Samples


class Beside:
    """Two channels: what `say` was given on the pilot's, and `own` on the second's.

    The made voice takes its time like any other: what is said waits for what was said before.
    """

    channels: Channels = 2

    def __init__(self, own: AudioSource) -> None:
        self.own = own
        self._waiting: deque[Samples] = deque()

    @property
    def name(self) -> str:
        """For the record."""
        return f"{self.own.name}, beside a simulated pilot"

    def say(self, sound: Samples) -> None:
        """Put 16 kHz samples on the pilot's channel, from the next block on."""
        self._waiting.append(sound)

    def blocks(self) -> Iterator[Item]:
        """As the own source gives them, with the pilot's channel filled."""
        for item in self.own.blocks():
            yield Block(self._next(len(item)), item.mixed) if isinstance(item, Block) else item

    def stop(self) -> None:
        """End `blocks` soon."""
        self.own.stop()

    def _next(self, count: int) -> Samples:
        block = np.zeros(count, np.int16)
        filled = 0
        while filled < count and self._waiting:
            sound = self._waiting.popleft()
            part = sound[: count - filled]
            block[filled : filled + len(part)] = part
            filled += len(part)
            if len(part) < len(sound):
                self._waiting.appendleft(sound[len(part) :])
        return block
