"""The synthetic people who speak for a simulated crew."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.measure.synthesis import Talker

VOICES: Final = (
    Talker("flite", "slt"),
    Talker("flite", "rms"),
    Talker("espeak-ng", "en-us", 0.9),
    Talker("espeak-ng", "en-gb+f4", 0.95),
    Talker("espeak-ng", "en-us+m5", 1.05),
    Talker("festival", "ked_diphone"),
)
"""People on whose voices no threshold was set."""
PASSENGER: Final = Talker("espeak-ng", "en-gb-scotland", 1.05)
"""Whoever else talks in the cockpit."""


@lru_cache(maxsize=4096)
def sound_of(talker: Talker, words: str) -> NDArray[np.int16]:
    """The words as 16 kHz mono, made once. Raises VoicecheckError without the program."""
    return talker.say(words)
