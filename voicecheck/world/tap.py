"""Listening to both ends of a virtual sound card on one clock."""

from __future__ import annotations

import os
import subprocess
import threading
import time
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE

_READ: Final = 320 * 2
FLOOR: Final = 200
"""A sample from here up (-44 dBFS) is sound."""
_GAP: Final = 0.25
"""Seconds of quiet after which sound is over."""


class Tap:
    """Records a PulseAudio source; every sample has a time of the machine's clock.

    The clock of the first sample is the earliest that any block allows: blocks may come late,
    never early. Two taps are late by the same, so differences between them are exact to about
    one block of 20 ms.
    """

    def __init__(self, source: str, env: Mapping[str, str]) -> None:
        self._recorder = subprocess.Popen(
            [
                *("parec", f"--device={source}", f"--rate={RATE}", "--channels=1"),
                *("--format=s16le", "--raw", "--latency-msec=20"),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=dict(env),
            start_new_session=True,  # a busy session would starve it (virtual_card)
        )
        self._lock = threading.Lock()
        self._parts: list[bytes] = []
        self._count = 0
        self._origin = float("inf")
        self._last_sound = time.monotonic()
        self._thread = threading.Thread(target=self._read, name=f"tap {source}", daemon=True)
        self._thread.start()

    def quiet_for(self) -> float:
        """Seconds since the last sound."""
        return time.monotonic() - self._last_sound

    def stretches(self) -> list[tuple[float, float]]:
        """(start, end) of every stretch of sound so far, on the machine's clock."""
        return [
            (self._origin + a / RATE, self._origin + b / RATE)
            for a, b in loud_stretches(self.samples)
        ]

    @property
    def samples(self) -> NDArray[np.int16]:
        """All so far, 16 kHz mono."""
        with self._lock:
            sound = b"".join(self._parts)
        # A pipe may have given half a sample so far.
        return np.frombuffer(sound[: len(sound) // 2 * 2], "<i2")

    def close(self) -> None:
        """Stop recording."""
        self._recorder.terminate()
        self._recorder.wait()
        self._thread.join()

    def _read(self) -> None:
        """Own thread: ends with the recorder."""
        assert self._recorder.stdout is not None
        with self._recorder.stdout as pipe:
            while block := os.read(pipe.fileno(), _READ):
                now = time.monotonic()
                with self._lock:
                    self._parts.append(block)
                    self._count += len(block) // 2
                    self._origin = min(self._origin, now - self._count / RATE)
                even = block[: len(block) // 2 * 2]
                if np.abs(np.frombuffer(even, "<i2").astype(np.int32)).max(initial=0) >= FLOOR:
                    self._last_sound = now


def loud_stretches(samples: NDArray[np.int16], gap: float = _GAP) -> list[tuple[int, int]]:
    """First and last index of each stretch of sound, parted by at least `gap` seconds."""
    loud = np.flatnonzero(np.abs(samples.astype(np.int32)) >= FLOOR)
    if not len(loud):
        return []
    breaks = np.flatnonzero(np.diff(loud) > gap * RATE)
    starts = [loud[0], *loud[breaks + 1]]
    ends = [*loud[breaks], loud[-1]]
    return [(int(a), int(b) + 1) for a, b in zip(starts, ends, strict=True)]
