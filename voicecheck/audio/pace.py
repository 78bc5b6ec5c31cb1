"""A source without a microphone: silence in real time, for sessions run by key alone."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from typing import Final

import numpy as np

from voicecheck.audio.source import BLOCK, RATE, Block, Channels


class Pace:
    """Gives silent blocks at the pace of the machine's clock until `stop`."""

    name: Final = "keys"

    def __init__(self) -> None:
        self.channels: Channels = 1
        self._began = time.monotonic()
        self._stop = threading.Event()

    def now(self) -> float:
        """Seconds since the source was opened."""
        return time.monotonic() - self._began

    def blocks(self) -> Iterator[Block]:
        """Yield silence; a late reader gets what it missed at once."""
        given = 0
        while not self._stop.is_set():
            early = given / RATE - self.now()
            if early > 0:
                self._stop.wait(early)
            yield Block(np.zeros(BLOCK, np.int16))
            given += BLOCK

    def stop(self) -> None:
        """End `blocks` soon."""
        self._stop.set()
