"""A trend in words: what was measured, with its certainty, and nothing about what follows."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from voicecheck.logbook.trend.series import Trend
from voicecheck.logbook.wording import allowed


def sentences(trend: Trend) -> Iterator[str]:
    """Plain sentences, the most telling first."""
    present = trend.present
    if not present:
        yield "No measurement in the present run."
    else:
        last = present[-1]
        yield (
            f"Last {last.value:.2f} s ± {last.half:.2f} s on {last.utc[:10]}, "
            f"allowed {allowed(trend.lower, trend.upper)}."
        )
    yield from _of_slope(trend)
    yield from _of_limits(trend)
    if trend.run:
        yield f"{trend.run} measurements before the last sign-off are not compared with these."
    if trend.unmeasured:
        told = ", ".join(f"{count} {why}" for why, count in trend.unmeasured.items())
        yield f"Without a measurement: {told}."


def _of_slope(trend: Trend) -> Iterator[str]:
    if trend.line is not None:
        line = trend.line
        yield (
            f"Slope {line.per_day:+.4f} s a day ({line.confidence:.0%} confidence "
            f"{line.low:+.4f} to {line.high:+.4f})."
        )
        if trend.reach is not None:
            latest = "never" if trend.reach.latest == inf else f"{trend.reach.latest:.0f}"
            yield (
                f"On this line it meets the limit of {trend.reach.limit:.2f} s in "
                f"{trend.reach.days:.0f} days (at the steepest slope {trend.reach.earliest:.0f}, "
                f"at the flattest {latest})."
            )
        else:
            yield "No slope towards a limit is certain."
    elif trend.present:
        yield f"{len(trend.present)} measurements are too few for a slope."


def _of_limits(trend: Trend) -> Iterator[str]:
    if trend.limits is not None:
        found = trend.limits
        yield (
            f"Mean {found.centre:.4f} s, control limits {found.lower:.4f} to {found.upper:.4f} s; "
            f"mean moving range {found.mr_mean:.4f} s, its upper limit {found.mr_upper:.4f} s."
        )
        if trend.signals or trend.range_signals:
            yield (
                f"Outside the control limits: {len(trend.signals)} values, "
                f"{len(trend.range_signals)} ranges."
            )
    elif trend.present:
        yield f"{len(trend.present)} measurements are too few for control limits."
