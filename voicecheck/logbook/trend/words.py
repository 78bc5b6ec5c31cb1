"""A trend in words: what was measured, with its certainty, and nothing about what follows."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from voicecheck.logbook.trend.control import Limits
from voicecheck.logbook.trend.series import ASKED, Trend
from voicecheck.logbook.trend.slope import Slope
from voicecheck.logbook.wording import allowed, figure, joined, named
from voicecheck.words import say


def sentences(trend: Trend) -> Iterator[str]:
    """Plain sentences, the most telling first."""
    present = trend.present
    if not present:
        yield say("trend-none")
    else:
        last = present[-1]
        limits = allowed(trend.lower, trend.upper)
        value, half = figure(last.value), figure(last.half)
        yield say("trend-last", value=value, half=half, when=last.day, allowed=limits)
    if trend.line is not None:
        yield from _line(trend, trend.line)
    elif present:
        yield say("trend-few-slope", n=len(present))
    if trend.limits is not None:
        yield from _control(trend, trend.limits)
    elif present:
        yield say("trend-few-limits", n=len(present))
    if trend.run:
        yield say("trend-before", n=trend.run)
    if trend.unmeasured:
        told = (
            say("trend-count", n=count, what=unmeasured(why))
            for why, count in trend.unmeasured.items()
        )
        yield say("trend-unmeasured", counts=joined(told))


def _line(trend: Trend, line: Slope) -> Iterator[str]:
    slope, low, high = (_signed(value) for value in (line.per_day, line.low, line.high))
    yield say("trend-slope", slope=slope, confidence=f"{line.confidence:.0%}", low=low, high=high)
    if trend.reach is None:
        yield say("trend-no-slope")
        return
    latest = trend.reach.latest
    yield say(
        "trend-reach",
        limit=figure(trend.reach.limit),
        days=figure(trend.reach.days, 0),
        earliest=figure(trend.reach.earliest, 0),
        latest=say("trend-never") if latest == inf else figure(latest, 0),
    )


def _control(trend: Trend, found: Limits) -> Iterator[str]:
    yield say(
        "trend-control",
        mean=figure(found.centre, 4),
        lower=figure(found.lower, 4),
        upper=figure(found.upper, 4),
        range=figure(found.mr_mean, 4),
        most=figure(found.mr_upper, 4),
    )
    if trend.signals or trend.range_signals:
        yield say("trend-signals", values=len(trend.signals), ranges=len(trend.range_signals))


def unmeasured(why: str) -> str:
    """Why a window has no measurement: its verdict, and whether the crew was asked."""
    verdict, asked, _ = why.partition(ASKED)
    told = named("verdict", verdict)
    return say("verdict-and-asked", verdict=told) if asked else told


def _signed(value: float) -> str:
    return f"{value:+.4f}".replace(".", say("decimal"))
