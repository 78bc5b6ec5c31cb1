"""The sound card of the tests: the one that measurements use, and a way to wait for things."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import soundfile

from voicecheck.audio.source import RATE
from voicecheck.world.tap import Tap
from voicecheck.world.virtual_card import SoundCard

__all__ = ["REAL_TIME", "SoundCard", "recorded", "wait_until"]

REAL_TIME = pytest.mark.flaky(reruns=1, reruns_delay=5)
"""For tests against the clock: a machine that stands still for a second drops the sound server
or the words, so each has a second try. A fault of ours fails twice; the run's last line counts
reruns."""


def wait_until(true: Callable[[], object], what: str, seconds: float = 10.0) -> None:
    """Wait for a condition; AssertionError if it does not come."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, f"{what}: not within {seconds} s"
        time.sleep(0.01)


@contextlib.contextmanager
def recorded(card: SoundCard, path: Path) -> Iterator[None]:
    """Record the loudspeaker into a 16 kHz mono WAV while the block runs."""
    tap = Tap("vspk.monitor", card.env)
    try:
        wait_until(lambda: tap.samples.size, "the recorder has started")
        yield
        time.sleep(0.3)
    finally:
        tap.close()
    soundfile.write(path, tap.samples, RATE, subtype="PCM_16")
