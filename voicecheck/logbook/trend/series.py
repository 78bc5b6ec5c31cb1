"""The timings of one item on one airframe as a series, and what can be said of it.

Only what was measured counts: an interval that crew and light closed by themselves. An answer
to "still lit?", a cancelled window and a light that never went out are counted beside it. A
sign-off of the item begins a new run: what was repaired is not compared with what was broken.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Final

from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.deferral import day_in
from voicecheck.logbook.discrepancies import Discrepancy
from voicecheck.logbook.filed import Timed
from voicecheck.logbook.trend.control import BASELINE, FEWEST, Limits, limits, ranges
from voicecheck.logbook.trend.slope import Reach, Slope, reach, slope

RECENT: Final = 30
"""Values through which the line is laid (common practice, no source)."""
SURE: Final = 0.99
"""Confidence that a slope needs to be announced: it is looked at before every session."""
ASKED: Final = ", asked"
"""What follows the verdict of a window about which the crew was asked."""
AHEAD_DAYS: Final = 60.0
"""A limit further away is not announced (our choice)."""


@dataclass(frozen=True, slots=True)
class Point:
    """One measured interval. value: its middle; half: half its width; all in seconds."""

    utc: str
    value: float
    half: float
    verdict: str
    zone: str = "UTC"

    @property
    def day(self) -> date:
        """The operator's calendar day, in `zone`."""
        return day_in(parse(self.utc), self.zone)


@dataclass(frozen=True, slots=True)
class Trend:
    """points: all that were measured, oldest first. run: index at which the present run begins.

    unmeasured: verdicts of the windows without a measurement, and how many. limits, line and
    reach are of the present run; None where it is too short. signals: indices of points outside
    the control limits. range_signals: likewise for moving ranges (index of the later point).
    """

    item: str
    lower: float | None
    upper: float | None
    points: tuple[Point, ...]
    run: int
    unmeasured: dict[str, int]
    limits: Limits | None
    line: Slope | None
    reach: Reach | None
    signals: tuple[int, ...]
    range_signals: tuple[int, ...]

    @property
    def present(self) -> Sequence[Point]:
        """The points of the present run."""
        return self.points[self.run :]


def measured(timed: Timed) -> bool:
    """Whether this window was closed by the crew's own call, and so tells a time."""
    return (
        timed.low is not None
        and timed.high is not None
        and not timed.asked
        and timed.verdict in ("within", "early", "late", "too close to call")
    )


def trends(timings: Iterable[Timed], known: Iterable[Discrepancy]) -> list[Trend]:
    """One trend for each item, by name. known: the airframe's discrepancies, for sign-offs."""
    cleared: dict[str, list[str]] = {}
    for entry in known:
        for done in entry.actions:
            if done.kind == "cleared":
                cleared.setdefault(entry.first.item, []).append(done.at)
    ordered = sorted(timings, key=lambda timed: (timed.item, timed.utc))
    return [
        _trend(item, list(group), cleared.get(item, ()))
        for item, group in groupby(ordered, key=lambda timed: timed.item)
    ]


def _trend(item: str, timings: Sequence[Timed], cleared: Sequence[str]) -> Trend:
    points, unmeasured = _points(timings)
    signed = max(cleared, default="")
    run = sum(point.utc < signed for point in points)
    values = [point.value for point in points[run:]]
    found = limits(values[:BASELINE]) if len(values) >= FEWEST else None
    recent = points[run:][-RECENT:]
    line = slope(days_of(recent), [point.value for point in recent]) if len(recent) >= 5 else None
    last = timings[-1]
    outside, wide = _signals(values, found)
    return Trend(
        item,
        last.lower,
        last.upper,
        tuple(points),
        run,
        unmeasured,
        found,
        line,
        reach(line, last.lower, last.upper) if line is not None else None,
        tuple(run + k for k in outside),
        tuple(run + k for k in wide),
    )


def _points(timings: Iterable[Timed]) -> tuple[list[Point], dict[str, int]]:
    """What was measured, and how often something was not, by why."""
    points, unmeasured = [], dict[str, int]()
    for timed in timings:
        if measured(timed) and timed.low is not None and timed.high is not None:
            middle, half = (timed.low + timed.high) / 2, (timed.high - timed.low) / 2
            points.append(Point(timed.utc, middle, half, timed.verdict, timed.zone))
        else:
            why = timed.verdict + (ASKED if timed.asked else "")
            unmeasured[why] = unmeasured.get(why, 0) + 1
    return points, unmeasured


def _signals(values: Sequence[float], found: Limits | None) -> tuple[list[int], list[int]]:
    """Which values are outside the control limits, and which ranges above theirs."""
    if found is None:
        return [], []
    outside = [k for k, value in enumerate(values) if not found.lower <= value <= found.upper]
    return outside, [k for k, value in enumerate(ranges(values), 1) if value > found.mr_upper]


def days_of(points: Sequence[Point]) -> list[float]:
    """Days since the first of them."""
    times = [parse(point.utc) for point in points]
    return [(time - times[0]).total_seconds() / 86_400 for time in times]


@dataclass(frozen=True, slots=True)
class Drift:
    """A window that drifts towards its limit, for the crew's ear: seconds and days."""

    item: str
    direction: str
    now: float
    limit: float
    days: float


def drift(trend: Trend, now: datetime) -> Drift | None:
    """What is to be announced of a trend before it is a finding; None where nothing is."""
    recent = trend.present[-RECENT:]
    if len(recent) < FEWEST:
        return None
    line = slope(days_of(recent), [point.value for point in recent], SURE)
    if line is None:
        return None
    ahead = reach(line, trend.lower, trend.upper)
    if ahead is None:
        return None
    since = (now - parse(recent[-1].utc)).total_seconds() / 86_400
    left = max(0.0, ahead.days - since)
    if left > AHEAD_DAYS:
        return None
    return Drift(trend.item, "rising" if line.rises else "falling", line.now, ahead.limit, left)
