"""The arithmetic of spoken time windows.

A crew calls "selector off" (or the next position) as the selector moves, and calls the lamp
as it goes out. Both calls are words with an uncertain boundary, and the second comes a
reaction later. So a measured interval is a range, and a verdict is given only when the whole
range lies on one side of a limit; otherwise it is too close to call, which asks for a repeat.

Conventions (common practice, no source): the selector moves at the end of the leaving call;
the lamp is seen one reaction before the closing call begins. The default reaction and its
spread are settings of the checklist (checklist.model.Timing). Published response latencies
for orientation: mean pilot read-back latency about 0.6 s (NASA NTRS 20220007116); gaps
between speakers about 0.2 s (Levinson and Torreira, 2015).
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import Final

from voicecheck.checklist.resolved import Timing, Window

QUESTION_MARGIN: Final = 1.0
"""Seconds after the latest possible in-time call before the crew is asked."""
ANSWER_TIME: Final = 8.0
"""Seconds that the crew has to answer before silence becomes the finding."""


class WindowVerdict(enum.StrEnum):
    """What became of a timed item."""

    WITHIN = "within"
    EARLY = "early"
    LATE = "late"
    TOO_CLOSE = "too close to call"
    DID_NOT_GO_OUT = "did not go out"
    BEFORE_SELECTOR = "went out before the selector left"
    NOT_CALLED = "not called by the deadline"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True)
class Interval:
    """A measured time in seconds: it lies somewhere from low to high."""

    low: float
    high: float


def uncertainty(timing: Timing) -> float:
    """Half the width of a measured interval: both word boundaries and the reaction spread."""
    return 2 * timing.word_error + timing.reaction_spread


def measure(anchor_end: float, closing_start: float, timing: Timing) -> Interval:
    """The interval from the end of the leaving call to the start of the closing call."""
    middle = closing_start - timing.reaction - anchor_end
    half = uncertainty(timing)
    return Interval(middle - half, middle + half)


def judge(interval: Interval, window: Window) -> WindowVerdict:
    """Within, early or late when it is certain; else too close to call. Limits are inclusive."""
    if interval.high < window.lower:
        return WindowVerdict.EARLY
    if interval.low > window.upper:
        return WindowVerdict.LATE
    if interval.low >= window.lower and interval.high <= window.upper:
        return WindowVerdict.WITHIN
    return WindowVerdict.TOO_CLOSE


def question_at(anchor_end: float, window: Window, timing: Timing) -> float:
    """When to ask, if nothing has been called: no in-time call can still be on its way."""
    return anchor_end + window.upper + timing.reaction + uncertainty(timing) + QUESTION_MARGIN
