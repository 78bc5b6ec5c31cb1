"""The arithmetic of spoken time windows.

A crew calls "selector off" (or the next position) about when the selector moves, and calls the
lamp as it goes out. Nobody can say when the hand moved: before the call's end or after it. Both
calls are words with an uncertain boundary, or a touch, and the second comes a reaction later. So
a measured interval is a range, and a verdict is given only when the whole range lies on one side
of a limit; otherwise it is too close to call, which asks for a repeat.

The hand, the reaction and the two boundaries err independently, so their allowances are added as
squares; a sum would be wider than any window of four seconds. What that lets through is measured:
`voicecheck measure timing`. A voice and a touch have the same allowance: a touch needs no word
boundary, but the finger comes no surer than a word.

The allowances are settings of the checklist (checklist.model.Timing). Published response latencies
for orientation: mean pilot read-back latency about 0.6 s (NASA NTRS 20220007116); gaps
between speakers about 0.2 s (Levinson and Torreira, 2015). For the hand: from memory, no source.
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass
from typing import Final

from voicecheck.checklist.resolved import Timing, Window

QUESTION_MARGIN: Final = 1.0
"""Seconds after the latest possible in-time call before the crew is asked."""
ANSWER_TIME: Final = 8.0
"""Seconds that the crew has to answer before silence becomes the finding."""

USUAL_CALL: Final = 0.9
"""Seconds of a leaving call of two or three words (from memory, no source)."""


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
    """Half the width of a measured interval: the hand, the reaction and both word boundaries."""
    hand = (timing.hand_before + timing.hand_after) / 2
    return math.hypot(hand, timing.reaction_spread, timing.word_error, timing.word_error)


def lag(timing: Timing) -> float:
    """Seconds by which the two calls lie further apart than hand and lamp, at the middle."""
    return timing.reaction + (timing.hand_after - timing.hand_before) / 2


def may_have_left(start: float, end: float, timing: Timing) -> float:
    """The end of a leaving call as it counts for the earliest hand: it may move as the call begins.

    Earlier than `end` only of a call that is longer than a usual one and than the allowance.
    """
    return min(end, start + max(USUAL_CALL, timing.hand_before))


def measure(anchor_end: float, closing_start: float, timing: Timing) -> Interval:
    """The interval from the end of the leaving call to the start of the closing call."""
    middle = closing_start - lag(timing) - anchor_end
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
    return anchor_end + window.upper + lag(timing) + uncertainty(timing) + QUESTION_MARGIN
