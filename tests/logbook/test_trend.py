"""Control charts, slopes and warnings against published figures and a second library."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from invented import place, series
from scipy import stats

from voicecheck.logbook.discrepancies import Done
from voicecheck.logbook.drawing import Line, Words
from voicecheck.logbook.filed import Timed
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.looking import context_of, history
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.trend.chart import chart, spark
from voicecheck.logbook.trend.control import D2, D4, limits, ranges
from voicecheck.logbook.trend.series import Trend, drift, trends
from voicecheck.logbook.trend.slope import reach, slope
from voicecheck.logbook.trend.words import sentences
from voicecheck.measure.invented_log import Invented

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, example of an individuals chart
# (flow rate of ten batches): mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_the_handbooks_individuals_chart() -> None:
    found = limits(FLOW)
    assert f"{found.centre:.2f}" == "50.81"
    assert f"{found.mr_mean:.4f}" == "1.8778"
    assert f"{found.upper:.4f}" == "55.8041"
    assert f"{found.lower:.4f}" == "45.8159"
    assert all(found.lower <= value <= found.upper for value in FLOW)


def test_the_constants_of_ranges_of_two() -> None:
    # d2 is the mean range of two standard normal values, 2/sqrt(pi); D4 = 1 + 3 d3/d2 with
    # d3 = sqrt(2 - 4/pi): the tables print them to three decimals
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    assert f"{d2:.3f}" == f"{D2:.3f}" == "1.128"
    assert f"{1 + 3 * d3 / d2:.3f}" == "3.267"
    assert f"{D4:.3f}" == "3.267"
    assert limits(FLOW).mr_upper == pytest.approx(3.267 * 16.9 / 9, abs=1e-9)


@given(st.lists(st.floats(0.1, 20), min_size=2, max_size=60))
def test_limits_agree_with_numpy(values: list[float]) -> None:
    found = limits(values)
    moved = np.abs(np.diff(values))
    assert ranges(values) == pytest.approx(moved.tolist())
    assert found.centre == pytest.approx(np.mean(values))
    assert found.upper - found.centre == pytest.approx(3 * np.mean(moved) / 1.128)


# NIST StRD, linear regression, dataset Norris (36 observations, lower level of difficulty) and
# its certified values.
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
    666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
    999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0,
    998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip


def test_the_certified_line() -> None:
    found = slope(NORRIS_X, NORRIS_Y)
    assert found is not None
    assert found.per_day == pytest.approx(1.00211681802045, rel=1e-12)
    assert found.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert found.error == pytest.approx(0.429796848199937e-03, rel=1e-9)
    # t(0.975, 34) = 2.032 in the tables of Student's t
    assert (found.high - found.low) / 2 / found.error == pytest.approx(2.032, abs=5e-4)


@given(
    st.lists(st.tuples(st.integers(0, 400), st.floats(1, 9)), min_size=3, max_size=40),
    st.sampled_from([0.8, 0.95, 0.99]),
)
def test_slopes_agree_with_scipy(points: list[tuple[int, float]], confidence: float) -> None:
    days, values = [float(day) for day, _ in points], [value for _, value in points]
    found = slope(days, values, confidence)
    if len(set(days)) < 2:
        assert found is None
        return
    assert found is not None
    assume(len(set(values)) > 1)  # scipy has no error of a line without spread
    known = stats.linregress(days, values)
    assert found.per_day == pytest.approx(known.slope, rel=1e-6, abs=1e-8)
    factor = stats.t.ppf(0.5 + confidence / 2, len(days) - 2)
    assert found.high == pytest.approx(known.slope + factor * known.stderr, rel=1e-6, abs=1e-6)


def test_days_to_the_limit_by_hand() -> None:
    # exactly 4.0 s and 0.02 s a day: after ten days 4.2 s, and 40 more to 5.0 s
    found = slope(list(range(11)), [4.0 + 0.02 * day for day in range(11)])
    assert found is not None
    ahead = reach(found, 3.0, 5.0)
    assert ahead is not None
    assert (ahead.limit, round(ahead.days, 6)) == (5.0, 40.0)
    falling = slope(list(range(11)), [4.0 - 0.02 * day for day in range(11)])
    assert falling is not None
    down = reach(falling, 3.0, 5.0)
    assert down is not None
    assert (down.limit, round(down.days, 6)) == (3.0, 40.0)
    assert reach(falling, None, 5.0) is None


def timed(day: int, value: float, **more: object) -> Timed:
    utc = (datetime(2026, 1, 5, tzinfo=UTC) + timedelta(days=day)).isoformat(
        timespec="milliseconds"
    )
    facts = {
        "lower": 3.0, "upper": 5.0, "low": value - 0.46, "high": value + 0.46,
        "verdict": "within", "asked": False, **more,
    }  # fmt: skip
    return Timed("anti-skid.out", utc.replace("+00:00", "Z"), **facts)  # type: ignore[arg-type]


def test_only_what_was_measured_counts() -> None:
    found = trends(
        [
            timed(0, 4.0),
            timed(1, 6.5, asked=True, verdict="too close to call"),
            timed(2, 0, low=None, high=None, verdict="not called by the deadline"),
            timed(3, 7.0, verdict="did not go out"),
            timed(4, 4.9, verdict="too close to call"),
        ],
        [],
    )[0]
    assert [round(point.value, 2) for point in found.points] == [4.0, 4.9]
    assert found.unmeasured == {
        "too close to call, asked": 1,
        "not called by the deadline": 1,
        "did not go out": 1,
    }
    assert found.limits is None
    assert found.line is None


def rising(rise: float, count: int = 20, noise: float = 0.05) -> Trend:
    values = [4.0 + rise * day + noise * (-1) ** day for day in range(count)]
    return trends([timed(day, value) for day, value in enumerate(values)], [])[0]


def test_a_rise_is_announced_before_it_is_a_finding() -> None:
    now = datetime(2026, 1, 25, tzinfo=UTC)
    found = rising(0.03)
    assert all(point.value + point.half <= 5.1 for point in found.points)
    told = drift(found, now)
    assert told is not None
    assert (told.direction, told.limit) == ("rising", 5.0)
    assert told.days == pytest.approx((5.0 - told.now) / 0.03 - 1, abs=1.5)


@pytest.mark.parametrize("trend", [rising(0.0), rising(0.001), rising(0.03, count=6)])
def test_no_warning_without_certainty_or_nearness(trend: Trend) -> None:
    assert drift(trend, datetime(2026, 1, 25, tzinfo=UTC)) is None


def test_points_outside_the_limits_are_marked() -> None:
    values = [4.0, 4.1, 3.9, 4.05, 3.95, 4.0, 4.1, 3.9, 4.0, 4.1] * 2 + [4.05, 4.9, 4.0]
    found = trends([timed(day, value) for day, value in enumerate(values)], [])[0]
    assert found.signals == (21,)
    assert found.range_signals == (21, 22)
    drawing = chart(found)
    assert drawing is not None
    marked = [shape for shape in drawing.shapes if getattr(shape, "marked", False)]
    assert len(marked) == 3


def test_a_sign_off_begins_a_new_run(lite: Database, log: Path) -> None:
    before = series("ZZ-HAA", 12, rise=0.09)
    after = series("ZZ-HAA", 9, first=datetime(2026, 3, 1, tzinfo=UTC))
    for one in before:
        post(lite, copy_of(place(log, one)))
    with lite.reading() as connection:
        found = context_of(connection, "ZZ-HAA", datetime(2026, 1, 20, tzinfo=UTC))
    assert found.standing == []
    late = Invented("ZZ-HAA", datetime(2026, 2, 1, tzinfo=UTC), out=6.0)
    post(lite, copy_of(place(log, late)))
    at = datetime(2026, 2, 2, tzinfo=UTC)
    act(lite, f"{late.id}/1", Deed(Act.CLEARED, who="M. Dipper", reference="TL 9", at=at))
    for one in after:
        post(lite, copy_of(place(log, one)))
    with lite.reading() as connection:
        whole = history(connection, "ZZ-HAA", datetime(2026, 3, 20, tzinfo=UTC))
    trend = whole.context.trends[0]
    assert (len(trend.points), trend.run) == (22, 13)
    assert trend.limits is not None
    assert trend.limits.centre == pytest.approx(np.mean([one.out for one in after]), abs=2e-3)
    told = " ".join(sentences(trend))
    assert "13 measurements before the last sign-off are not compared" in told
    assert {tally.item: tally.outcomes for tally in whole.tallies}["anti-skid.out"][
        "unsatisfactory"
    ] == 1
    again = Invented("ZZ-HAA", datetime(2026, 3, 15, tzinfo=UTC), out=6.0)
    post(lite, copy_of(place(log, again)))
    with lite.reading() as connection:
        repeats = context_of(connection, "ZZ-HAA", datetime(2026, 3, 20, tzinfo=UTC)).repeats
    assert [(entry.first.utc[:10], entry.repeats.reference) for entry in repeats
            if isinstance(entry.repeats, Done)] == [("2026-03-15", "TL 9")]  # fmt: skip


def test_a_sign_off_after_the_last_value_is_drawn_inside_the_picture() -> None:
    found = trends([timed(day, 4.0) for day in range(3)], [])[0]
    picture = chart(replace(found, run=3))
    assert picture is not None
    lines = [s.x1 for s in picture.shapes if isinstance(s, Line) and s.kind == "signed"]
    words = [s.x for s in picture.shapes if isinstance(s, Words) and s.text == "signed off"]
    assert len(lines) == len(words) == 1
    assert max(*lines, *words) <= picture.width


def test_pictures_of_few_and_of_many() -> None:
    one = trends([timed(0, 4.0)], [])[0]
    assert chart(one) is None
    assert spark(one) is None
    same = trends([timed(day, 4.0) for day in range(3)], [])[0]
    assert chart(same) is not None
    many = chart(trends([timed(day, 4.0 + day % 3 / 10) for day in range(900)], [])[0])
    assert many is not None
    assert len(many.shapes) < 600
