"""Stream time for the player: counted in samples from a file, in real time when live."""

from __future__ import annotations

import time
from collections.abc import Callable


class StreamClock:
    """Stream time for the player: samples taken in when reading a file, real time when live."""

    def __init__(self, live: bool, offset: float = 0.0) -> None:
        self._live = live
        self._offset = offset
        self._origin = time.monotonic()
        self.stream: Callable[[], float] = lambda: offset

    def start(self, stream: Callable[[], float]) -> None:
        """The first sound arrives now."""
        self._origin = time.monotonic()
        self.stream = stream

    def __call__(self) -> float:
        """Stream time in seconds."""
        if self._live:
            return self._offset + time.monotonic() - self._origin
        return self.stream()
