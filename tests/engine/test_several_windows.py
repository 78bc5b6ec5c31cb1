"""Several lamps timed at once: each by its own anchor and limits, none lost for another."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from fleet import Crew
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.resolved import Window
from voicecheck.engine.events import Began, Ended, Heard, Lost, Passed
from voicecheck.engine.windows import WindowVerdict, judge, measure
from voicecheck.shipped import checklists_dir, grammars_dir

TYPE = Path(__file__).parent / "timed" / "timed-lamps.yaml"
LIMITS = {
    "skid.left-out": Window(3, 5),
    "skid.right-out": Window(4, 8),
    "brake.caption-out": Window(2, 10),
}
OUTCOME = {
    WindowVerdict.WITHIN: "satisfactory",
    WindowVerdict.EARLY: "unsatisfactory",
    WindowVerdict.LATE: "unsatisfactory",
    WindowVerdict.TOO_CLOSE: "not tested",
}


@cache
def timed_lamps() -> Loaded:
    """The invented type with three timed lamps in two positions."""
    return load_checklist(str(TYPE), "ZZ-HTL", shipped=checklists_dir(), grammars=grammars_dir())


REACTION = timed_lamps().checklist.timing.reaction


@pytest.fixture
def crew() -> Crew:
    """At the moment at which the selector leaves the autobrake: three lamps are running."""
    return leaving()


def leaving() -> Crew:
    made = Crew("ZZ-HTL", Began(0.0), loaded=timed_lamps())
    made.power(battery="on", avionics="on")
    made.say("going to anti skid", "left skid illuminated", "right skid illuminated")
    made.say("going to autobrake", "autobrake illuminated", "selector off")
    return made


def running(crew: Crew) -> dict[str, float]:
    return {window.item: window.anchor for window in crew.engine.state.windows}


def test_each_lamp_runs_from_where_its_own_position_was_left(crew: Crew) -> None:
    anchors = running(crew)
    assert list(anchors) == list(LIMITS)
    assert anchors["skid.left-out"] == anchors["skid.right-out"]
    assert anchors["brake.caption-out"] == anchors["skid.left-out"] + 2.0


def test_each_is_judged_by_its_own_limits(crew: Crew) -> None:
    left = running(crew)["skid.left-out"]
    crew.say_at(left + 4.0 + REACTION, "left skid out")
    crew.say_at(left + 6.0 + REACTION, "right skid out")
    assert list(running(crew)) == ["brake.caption-out"]
    crew.say_at(left + 9.0 + REACTION, "autobrake out")
    assert [crew.outcome(item) for item in LIMITS] == ["satisfactory"] * 3


def test_silence_is_asked_about_each_and_becomes_a_finding_of_each(crew: Crew) -> None:
    asked: list[str] = []
    while (wake := crew.engine.wake) is not None and running(crew):
        made = crew.feed(Passed(wake))
        asked += [p for p in crew.prompts(made) if p == "window-ask"]
    assert len(asked) == 3
    assert [crew.outcome(item) for item in LIMITS] == ["unsatisfactory"] * 3
    assert len(crew.findings()) == 3


def test_going_back_to_one_position_leaves_the_other_lamp_running(crew: Crew) -> None:
    crew.say("going to anti skid")
    assert list(running(crew)) == ["brake.caption-out"]
    crew.say_at(crew.now + 3.0, "autobrake out")
    assert crew.outcome("brake.caption-out") == "satisfactory"
    assert crew.outcome("skid.left-out") == "not tested"


def test_a_power_change_stops_only_what_needs_the_bus(crew: Crew) -> None:
    crew.say("avionics off", "affirm")
    assert list(running(crew)) == ["skid.left-out", "skid.right-out"]
    assert crew.outcome("brake.caption-out") == "void"


def test_a_lost_microphone_stops_them_all(crew: Crew) -> None:
    crew.feed(Lost("microphone", crew.now + 0.5))
    assert running(crew) == {}
    assert [crew.outcome(item) for item in LIMITS] == ["not tested"] * 3


CALLS = {
    "skid.left-out": "left skid out",
    "skid.right-out": "right skid out",
    "brake.caption-out": "autobrake out",
}


@given(st.lists(st.floats(0.05, 11.0), min_size=3, max_size=3))
def test_any_order_of_calls_is_judged_as_each_alone(after: list[float]) -> None:
    """The verdict of each is that of its own interval, whatever is called in between."""
    crew = leaving()
    anchors = running(crew)
    keys = crew.phrases()
    calls: list[tuple[float, str, Any]] = [
        (anchors["brake.caption-out"] + seconds, item, keys[CALLS[item]])
        for item, seconds in zip(LIMITS, after, strict=True)
    ]
    expected: dict[str, str] = {}
    timing = timed_lamps().checklist.timing
    for start, item, key in sorted(calls):
        while (wake := crew.engine.wake) is not None and wake < start:
            crew.feed(Passed(wake))
        asked = {window.item for window in crew.engine.state.windows if window.asked}
        verdict = judge(measure(anchors[item], start, timing), LIMITS[item])
        expected[item] = "unsatisfactory" if item in asked else OUTCOME[verdict]
        if item not in running(crew):
            expected[item] = "unsatisfactory"  # the question was not answered in time
            continue
        crew.feed(Heard(key, CALLS[item], start, start + 0.01, 0.99))
    crew.feed(Ended(20.0, "over"))
    assert {item: crew.outcome(item) for item in expected} == expected


def test_a_finding_outlives_a_repeat_that_tells_nothing(crew: Crew) -> None:
    """Too late once; the repeat was spoilt by going back, by power, by lost sound: still late."""
    left = running(crew)["skid.left-out"]
    crew.say_at(left + 7.0 + REACTION, "left skid out")
    for spoil in ("going to anti skid", "battery off"):
        crew.say("going to anti skid", "left skid illuminated", "selector off")
        assert "skid.left-out" in running(crew)
        crew.say(spoil)
        if spoil == "battery off":
            crew.say("affirm")
        assert "skid.left-out" not in running(crew)
    item = crew.item("skid.left-out")
    assert item["outcome"] == "unsatisfactory"
    assert [past["outcome"] for past in item["history"]] == ["not tested", "void"]
    assert [finding["item"] for finding in crew.findings()] == ["skid.left-out"]


def test_one_lamp_that_cannot_be_timed_does_not_keep_the_next_from_it() -> None:
    crew = Crew("ZZ-HTL", Began(0.0), loaded=timed_lamps())
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "right skid illuminated", "selector off")
    assert list(running(crew)) == ["skid.right-out"], "the left one was never called lit"
    crew.say("going to anti skid", "left skid illuminated", "left skid out")
    crew.say("right skid illuminated", "selector off")
    assert list(running(crew)) == ["skid.right-out"], "the left one was out already"
    assert crew.outcome("skid.left-out") == "unsatisfactory"


def test_a_window_too_close_to_call_keeps_what_was_measured(crew: Crew) -> None:
    left = running(crew)["skid.left-out"]
    crew.say_at(left + 5.0 + REACTION, "left skid out")
    result = crew.engine.state.records["skid.left-out"].now
    assert result is not None
    assert result.timing is not None
    assert result.timing.verdict == WindowVerdict.TOO_CLOSE.value
