"""Stream time for the player: counted in samples from a file, in real time when live."""

from __future__ import annotations

from collections.abc import Callable

Seconds = Callable[[], float]


class StreamClock:
    """Stream time for the player, never backwards.

    From a file it is the sound taken in. Live it is the sound that has reached the microphone,
    which is ahead of what was taken in while a listener thinks; so prompts and callouts are on
    one clock, and it does not drift from the sound card's own.
    """

    def __init__(self, offset: float = 0.0) -> None:
        self._seconds: Seconds = lambda: offset
        self._latest = offset

    def start(self, seconds: Seconds) -> None:
        """From now on `seconds` tells the stream time, the offset of a resumed session in it."""
        self._seconds = seconds

    def __call__(self) -> float:
        """Stream time in seconds."""
        # Blocks do not come evenly, so the count may step back by milliseconds.
        self._latest = max(self._latest, self._seconds())
        return self._latest
