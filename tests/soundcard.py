"""The sound card of the tests: the one that measurements use, and a way to wait for things."""

from __future__ import annotations

import time
from collections.abc import Callable

from voicecheck.measure.virtual_card import SoundCard

__all__ = ["SoundCard", "wait_until"]


def wait_until(true: Callable[[], object], what: str, seconds: float = 10.0) -> None:
    """Wait for a condition; AssertionError if it does not come."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, f"{what}: not within {seconds} s"
        time.sleep(0.01)
