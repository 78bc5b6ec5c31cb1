"""A straight line through timings over days: how steep, how sure, and when it meets a limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt
from statistics import fmean


@dataclass(frozen=True, slots=True)
class Slope:
    """Least squares. per_day, low, high: units per day, with a confidence interval.

    now: where the line stands at the last value.
    """

    per_day: float
    low: float
    high: float
    intercept: float
    error: float
    now: float
    confidence: float

    @property
    def rises(self) -> bool:
        """The whole interval is above zero."""
        return self.low > 0

    @property
    def falls(self) -> bool:
        """The whole interval is below zero."""
        return self.high < 0


def slope(days: Sequence[float], values: Sequence[float], confidence: float = 0.95) -> Slope | None:
    """The line through at least three values on at least two different days; else None."""
    n = len(values)
    if n < 3 or len(days) != n:
        return None
    mean_x, mean_y = fmean(days), fmean(values)
    sxx = sum((x - mean_x) ** 2 for x in days)
    if sxx <= 0:
        return None
    sxy = sum((x - mean_x) * (y - mean_y) for x, y in zip(days, values, strict=True))
    per_day = sxy / sxx
    intercept = mean_y - per_day * mean_x
    residual = sum((y - intercept - per_day * x) ** 2 for x, y in zip(days, values, strict=True))
    spread = sqrt(residual / (n - 2))
    error = spread / sqrt(sxx)
    factor = quantile(0.5 + confidence / 2, n - 2)
    return Slope(
        per_day,
        per_day - factor * error,
        per_day + factor * error,
        intercept,
        error,
        intercept + per_day * max(days),
        confidence,
    )


def quantile(p: float, freedom: int) -> float:
    """Student's t: the value that is not exceeded with probability p."""
    from scipy.special import stdtrit  # late: a session needs it seldom, and it loads slowly

    return float(stdtrit(freedom, p))


@dataclass(frozen=True, slots=True)
class Reach:
    """Days until the line meets a limit: by the line, and at the steepest and flattest slope.

    latest is inf where the flattest slope never meets it.
    """

    limit: float
    days: float
    earliest: float
    latest: float


def reach(found: Slope, lower: float | None, upper: float | None) -> Reach | None:
    """When a line that rises (falls) meets the upper (lower) limit; None while it does neither."""
    if found.rises and upper is not None:
        limit, steep, flat = upper, found.high, found.low
    elif found.falls and lower is not None:
        limit, steep, flat = lower, found.low, found.high
    else:
        return None
    gap = limit - found.now

    def days(at: float) -> float:
        return max(0.0, gap / at) if at else inf

    return Reach(limit, days(found.per_day), days(steep), days(flat))
