"""A trend as a picture: individual values with their limits above, moving ranges below."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from voicecheck.logbook.drawing import Dot, Drawing, Line, Shape, Track, Words
from voicecheck.logbook.trend.control import ranges
from voicecheck.logbook.trend.series import RECENT, Point, Trend, days_of
from voicecheck.logbook.wording import figure, named
from voicecheck.words import say

WIDTH: Final = 760.0
HEIGHT: Final = 330.0
_LEFT, _RIGHT = 60.0, 640.0
_TOP, _MIDDLE = (14.0, 196.0), (224.0, 304.0)
NEWEST: Final = 120
"""Points that one picture shows, the newest ones."""

Scale = Callable[[float], float]


def chart(trend: Trend) -> Drawing | None:
    """The picture; None while there are fewer than two points."""
    first = max(0, len(trend.points) - NEWEST)
    points = trend.points[first:]
    if len(points) < 2:
        return None
    step = (_RIGHT - _LEFT) / (len(points) - 1)

    def x(index: int) -> float:
        return _LEFT + (index - first) * step

    shapes: list[Shape] = [*_values(trend, first, x), *_ranges(trend, first, x)]
    for index in sorted({0, len(points) // 2, len(points) - 1}):
        shapes.append(Words(x(first + index), HEIGHT - 8, f"{points[index].day}", "axis", "middle"))
    text = say(
        "chart-text-signals" if trend.signals else "chart-text",
        n=len(points),
        first=points[0].day,
        last=points[-1].day,
        signals=len(trend.signals),
    )
    return Drawing(WIDTH, HEIGHT, say("chart-title", item=trend.item), text, tuple(shapes))


def _values(trend: Trend, first: int, x: Callable[[int], float]) -> Iterator[Shape]:
    points = trend.points[first:]
    limit = say("chart-limit")
    bounds = [(trend.upper, "allowed", limit), (trend.lower, "allowed", limit)]
    if trend.limits is not None:
        bounds += [
            (trend.limits.upper, "control", say("chart-upper-control")),
            (trend.limits.centre, "centre", say("chart-mean")),
            (trend.limits.lower, "control", say("chart-lower-control")),
        ]
    drawn = [(value, kind, name) for value, kind, name in bounds if value is not None]
    every = [p.value + p.half for p in points] + [p.value - p.half for p in points]
    y = _scale([*every, *(value for value, _, _ in drawn)], *_TOP)
    yield Words(_LEFT - 8, _TOP[0] + 6, say("chart-seconds"), "axis", "end")
    yield from _rules(drawn, y)
    for index, point in enumerate(points, first):
        yield Line(x(index), y(point.value - point.half), x(index), y(point.value + point.half),
                   "half")  # fmt: skip
    yield Track(tuple((x(k), y(p.value)) for k, p in enumerate(points, first)), "values")
    if trend.run > first:
        yield from _signed_off(min(x(trend.run) - 2, _RIGHT))
    yield from _line(trend, first, x, y)
    for index, point in enumerate(points, first):
        yield _dot(point, x(index), y(point.value), outside=index in trend.signals)


def _dot(point: Point, x: float, y: float, *, outside: bool) -> Dot:
    label = say(
        "chart-point-outside" if outside else "chart-point",
        when=point.utc,
        value=figure(point.value),
        half=figure(point.half),
        verdict=named("verdict", point.verdict),
    )
    return Dot(x, y, label, "signal" if outside else "value", outside)


def _signed_off(at: float) -> Iterator[Shape]:
    """at: one after the last value has no place of its own, and stands at the right end."""
    yield Line(at, _TOP[0], at, _MIDDLE[1], "signed")
    signed = say("chart-signed-off")
    if at == _RIGHT:
        yield Words(at - 3, _TOP[0] + 6, signed, "axis", "end")
    else:
        yield Words(at + 2, _TOP[0] + 6, signed, "axis", "start")


def _line(trend: Trend, first: int, x: Callable[[int], float], y: Scale) -> Iterator[Shape]:
    """The fitted line, over the points that it was laid through."""
    begin = max(trend.run, len(trend.points) - RECENT)
    if trend.line is None or begin < first:
        return
    recent = trend.points[begin:]
    fitted = [trend.line.intercept + trend.line.per_day * day for day in days_of(recent)]
    yield Track(tuple((x(begin + k), y(value)) for k, value in enumerate(fitted)), "line")


def _ranges(trend: Trend, first: int, x: Callable[[int], float]) -> Iterator[Shape]:
    values = ranges([point.value for point in trend.points[first:]])
    drawn = []
    if trend.limits is not None:
        drawn = [
            (trend.limits.mr_upper, "control", say("chart-upper-control")),
            (trend.limits.mr_mean, "centre", say("chart-mean-range")),
        ]
    y = _scale([0.0, *values, *(value for value, _, _ in drawn)], *_MIDDLE)
    yield Words(_LEFT - 8, _MIDDLE[0] + 6, say("chart-range"), "axis", "end")
    yield from _rules(drawn, y)
    yield Track(tuple((x(k), y(v)) for k, v in enumerate(values, first + 1)), "values")
    for index, value in enumerate(values, first + 1):
        outside = index in trend.range_signals
        label = say("chart-moved", when=trend.points[index].utc, value=figure(value))
        yield Dot(x(index), y(value), label, "signal" if outside else "value", outside)


def _rules(drawn: Sequence[tuple[float, str, str]], y: Scale) -> Iterator[Shape]:
    """Lines across the picture; names on the right are pushed apart where they would collide."""
    at = -100.0
    for value, kind, name in sorted(drawn, key=lambda rule: -rule[0]):
        yield Line(_LEFT, y(value), _RIGHT, y(value), kind)
        at = max(y(value) + 3, at + 11)
        yield Words(_RIGHT + 6, at, say("chart-rule", name=name, value=figure(value)), "axis")


def _scale(values: Sequence[float], top: float, bottom: float) -> Scale:
    low, high = min(values), max(values)
    span = (high - low) or 1.0
    return lambda value: bottom - (value - low) / span * (bottom - top)


def spark(trend: Trend, width: float = 150.0, height: float = 32.0) -> Drawing | None:
    """The newest values in the size of a line of text, between the allowed limits."""
    points = trend.points[-40:]
    if len(points) < 2:
        return None
    values = [point.value for point in points]
    bounds = [value for value in (trend.lower, trend.upper) if value is not None]
    y = _scale([*values, *bounds], 4.0, height - 4.0)
    step = (width - 12.0) / (len(points) - 1)
    track = tuple((6.0 + k * step, y(value)) for k, value in enumerate(values))
    last = len(trend.points) - 1 in trend.signals
    shapes: list[Shape] = [Line(6.0, y(b), width - 6.0, y(b), "allowed") for b in bounds]
    label = say("chart-value", when=points[-1].utc, value=figure(values[-1]))
    shapes += [
        Track(track, "values"),
        Dot(*track[-1], label, "signal" if last else "value", last),
    ]
    text = say("spark-text", value=figure(values[-1]), n=len(points))
    return Drawing(width, height, trend.item, text, tuple(shapes))
