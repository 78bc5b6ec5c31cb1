"""The synthetic people of the corpus: which calibrate, and which are kept for the test.

Engines that speak with the same recorded person stand on one side together: KAL (flite and
festival) calibrates, SLT (flite and festival) tests.
"""

from __future__ import annotations

from typing import Final, Literal

from voicecheck.world.synthesis import Talker

Part = Literal["calibration", "test"]

CALIBRATION: Final = (
    Talker("flite", "kal16"),
    Talker("festival", "kal_diphone", 0.95),
    Talker("flite", "awb"),
    Talker("espeak-ng", "en-gb", 0.9),
    Talker("espeak-ng", "en-us+m3", 0.85),
    Talker("espeak-ng", "en-gb-scotland+f2", 0.95),
    Talker("espeak-ng", "en-us+Annie", 1.0),
    Talker("espeak-ng", "en-gb-x-rp+m7", 0.95),
    Talker("espeak-ng", "en-029+Alex", 0.9),
    Talker("espeak-ng", "en-us+Mike", 1.1),
    Talker("espeak-ng", "en-gb+Andrea", 1.0),
    Talker("espeak-ng", "en-gb-x-gbclan+steph", 0.85),
)
TEST: Final = (
    Talker("flite", "slt"),
    Talker("festival", "cmu_us_slt_arctic_hts", 1.05),
    Talker("flite", "rms"),
    Talker("festival", "ked_diphone"),
    Talker("espeak-ng", "en-gb-x-rp", 0.9),
    Talker("espeak-ng", "en-us+f3", 0.95),
    Talker("espeak-ng", "en-gb+m6", 0.9),
    Talker("espeak-ng", "en-us+aunty", 1.0),
    Talker("espeak-ng", "en-gb-scotland+m4", 0.9),
    Talker("espeak-ng", "en-gb-x-gbcwmd+f5", 0.95),
    Talker("espeak-ng", "en-us+Diogo", 0.95),
    Talker("espeak-ng", "en-029+linda", 0.85),
)


def talkers_of(part: Part, count: int | None = None) -> tuple[Talker, ...]:
    """The people of one part, at most `count` of them, the least alike first."""
    return (CALIBRATION if part == "calibration" else TEST)[:count]


def name_of(talker: Talker) -> str:
    """Engine and voice, as the manifest and the tables name them."""
    return f"{talker.engine} {talker.voice}"
