"""When a callout began and ended, from two witnesses: the recogniser's words and the detector.

In noise a grammar decoder now and then gives silence to the first or the last word; the speech
detector lags, but never by much. Its edges bound those of the words. Outer edges alone, p95
of the error's size at 10 dB: 305 ms at the start and 448 ms at the end by the words, 63 and 70
ms with the bounds. The bounds were chosen on the same six voices, so expect less on others;
`voicecheck measure word-times` pools the edges inside rows with these.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.verdict import Accepted, Verdict

BEFORE: Final = 0.10
"""Seconds before the detector's edge at which a word may begin, or the last one end."""
AFTER: Final = 0.05
"""Seconds after the detector's start at which the first word may begin at the latest."""


def bounded(verdict: Verdict, utterance: Utterance) -> Verdict:
    """The verdict with the outer edges of what is acted on held to those of the speech."""
    if not isinstance(verdict, Accepted):
        return verdict
    first, last = verdict.spoken[0], verdict.spoken[-1]
    start = min(max(first.start, utterance.start - BEFORE), utterance.start + AFTER)
    end = max(min(last.end, utterance.end), utterance.end - BEFORE)
    if end <= start:
        return verdict
    spoken = list(verdict.spoken)
    spoken[0] = replace(spoken[0], start=round(start, 3))
    spoken[-1] = replace(spoken[-1], end=round(end, 3))
    return replace(verdict, spoken=tuple(spoken), start=spoken[0].start, end=spoken[-1].end)
