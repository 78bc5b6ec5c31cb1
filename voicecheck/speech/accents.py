"""What an accent or quick speech does to a callout without making another of it.

A phrase is chosen by what was written strictly: vowels keep callouts apart. But whether the chosen
one fits is asked with some tolerance, because "set" said as S EY T is a voice, not another word.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from voicecheck.speech.ctc import NUMBERS, Floats, Way

COST: Final = 1.0
"""Nats that a near vowel costs at most, in each frame. Chosen on the voices that calibrate, among
1, 2 and 3, and against every vowel being near every other."""
NEAR: Final = (
    *(("AA", "AE"), ("AA", "AH"), ("AA", "AO"), ("AA", "ER"), ("AE", "AH"), ("AE", "EH")),
    *(("AH", "EH"), ("AH", "ER"), ("AH", "IH"), ("AH", "UH"), ("AH", "UW"), ("AO", "OW")),
    *(("AW", "OW"), ("AY", "OY"), ("EH", "EY"), ("EH", "IH"), ("EY", "IH"), ("EY", "IY")),
    *(("IH", "IY"), ("IY", "UW"), ("UH", "UW")),
)
"""Vowels of ARPAbet that accents of English exchange (common knowledge of phonetics, no source)."""


def tolerant(frames: Floats) -> Floats:
    """(time, classes) with each vowel at least as likely as a near one, less COST."""
    found = frames.copy()
    for one, other in NEAR:
        a, b = NUMBERS[one], NUMBERS[other]
        found[:, a] = np.maximum(found[:, a], frames[:, b] - COST)
        found[:, b] = np.maximum(found[:, b], frames[:, a] - COST)
    return found


def run_together(way: Way) -> tuple[Way, ...]:
    """The way, and those with one phone where the edge of two words has it twice ("flaps set")."""
    found = {way: None}
    for at in range(len(way) - 1):
        if way[at] == way[at + 1]:
            found |= dict.fromkeys(run_together((*way[:at], *way[at + 1 :])))
    return tuple(found)
