"""The input level, told some ten times a second."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from voicecheck.audio.source import Block

EVERY: Final = 5
"""Blocks (of 20 ms) to one reading."""
FLOOR: Final = -96.0
"""dBFS of digital silence in 16 bits."""


class Meter:
    """Peak of the last tenth of a second, in dBFS."""

    def __init__(self, tell: Callable[[float, float, bool], None]) -> None:
        self._tell = tell
        self._count = 0
        self._peak = 0

    def take(self, block: Block, now: float, *, speaking: bool) -> None:
        """One block that ended at stream time `now`. speaking: undecided speech is in it."""
        for lane in (block.samples, block.second):
            if lane is not None and len(lane):
                self._peak = max(self._peak, int(np.abs(lane.astype(np.int32)).max()))
        self._count += 1
        if self._count % EVERY == 0:
            level = 20 * math.log10(self._peak / 32768) if self._peak else FLOOR
            self._peak = 0
            self._tell(now, round(level, 1), speaking)
