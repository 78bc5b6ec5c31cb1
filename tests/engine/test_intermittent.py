"""Bad, then good on another visit: a yes is wanted, and the finding stays open."""

from __future__ import annotations

from typing import Any

import pytest
from fleet import Crew

from voicecheck.engine.effects import Say, Show
from voicecheck.engine.events import Began, Heard, KeyPressed, Passed


@pytest.fixture
def prop() -> Crew:
    crew = Crew("ZZ-HAA")
    crew.power(battery="on", avionics="off")
    return crew


@pytest.fixture
def jet() -> Crew:
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    return crew


def marks(crew: Crew, item: str) -> list[tuple[str, bool, bool]]:
    """What was found of an item, whether it is superseded, and whether it is intermittent."""
    return [
        (f["what"], f["superseded"], f.get("intermittent", False))
        for f in crew.result["findings"]
        if f["item"] == item
    ]


def test_good_news_on_another_visit_needs_a_yes(prop: Crew) -> None:
    prop.say("going to gear", "two green", "left gear dark", "going to stall", "going to gear")
    assert prop.say("three green") == ["confirm-change"]
    assert prop.engine.state.records["gear.greens"].now.outcome == "unsatisfactory"
    prop.say("affirm")
    assert prop.outcome("gear.greens") == "satisfactory"
    assert marks(prop, "gear.greens") == [("LEFT dark", False, True)]


def test_the_same_position_called_again_is_another_visit(prop: Crew) -> None:
    """The selector was wiggled, and the lamp came on."""
    prop.say("going to gear", "two green", "left gear dark", "going to gear")
    assert prop.say("three green") == ["confirm-change"]
    prop.say("affirm")
    assert marks(prop, "gear.greens") == [("LEFT dark", False, True)]


@pytest.mark.parametrize("no", ["negative", "one red"])
def test_without_a_yes_it_stays_what_it_was(prop: Crew, no: str) -> None:
    prop.say("going to gear", "two green", "left gear dark", "going to gear", "three green", no)
    assert prop.outcome("gear.greens") == "unsatisfactory"
    assert marks(prop, "gear.greens") == [("LEFT dark", False, False)]


def test_a_miscount_bettered_in_its_visit_is_superseded(prop: Crew) -> None:
    prop.say("going to gear", "two green", "three green", "affirm")
    prop.say("going to stall", "going to gear")
    assert prop.say("three green") == ["ack"]
    assert [mark[1:] for mark in marks(prop, "gear.greens")] == [(True, False)]


def test_a_miscount_taken_back_is_no_finding(prop: Crew) -> None:
    prop.say("going to gear", "two green", "correction", "going to gear", "three green")
    assert prop.outcome("gear.greens") == "satisfactory"
    assert marks(prop, "gear.greens") == []


def test_bad_again_it_is_a_finding_again(prop: Crew) -> None:
    prop.say("going to gear", "two green", "left gear dark", "going to gear", "three green")
    prop.say("affirm", "going to gear", "two green", "left gear dark")
    assert [mark[1:] for mark in marks(prop, "gear.greens")] == [(True, False), (False, False)]


def test_two_bad_visits_before_a_good_one_are_both_kept(prop: Crew) -> None:
    prop.say("going to gear", "two green", "left gear dark", "going to gear")
    prop.say("two green", "nose gear dark", "going to gear", "three green", "affirm")
    assert marks(prop, "gear.greens") == [("LEFT dark", False, True), ("NOSE dark", False, True)]


def test_a_finding_at_rest_that_was_left_wants_a_yes_as_well(prop: Crew) -> None:
    prop.say("selector off", "light still showing", "going to gear", "selector off")
    assert prop.say("panel dark") == ["confirm-change"]
    assert "outstanding" not in prop.say("affirm")
    assert [mark[1:] for mark in marks(prop, "off.panel")] == [(False, True)]


def test_a_good_call_that_is_doubted_again_leaves_the_finding_open(prop: Crew) -> None:
    prop.say("going to gear", "two green", "left gear dark", "going to gear", "three green")
    prop.say("affirm", "correction")
    assert marks(prop, "gear.greens") == [("LEFT dark", False, False)]


def test_it_is_seen_and_read_out_at_the_end(prop: Crew) -> None:
    prop.say("going to gear", "two green", "left gear dark", "going to gear", "three green")
    prop.say("affirm")
    view = next(e.view for e in reversed(prop.effects) if isinstance(e, Show))
    assert view["findings"] == ["LEFT dark (intermittent, re-tested)"]
    prop.say("selector off", "panel dark")
    assert prop.say("test complete") == ["end-found", "end-untested", "confirm-incomplete"]
    said = next(e for e in reversed(prop.effects) if isinstance(e, Say) and e.prompt == "end-found")
    assert said.values["found"] == "gear LEFT dark (intermittent, re-tested)"
    prop.say("affirm")
    last = [e for e in prop.effects if isinstance(e, Say)][-1]
    assert (last.prompt, last.values["findings"]) == ("finished-incomplete", "1")


def retest(jet: Crew, out: float) -> list[str]:
    """Select anti-skid, leave it, and call it out after so many seconds."""
    jet.say("going to anti skid", "anti skid illuminated", "selector off")
    return jet.say_at(jet.now + out, "anti skid out")


def timed(jet: Crew) -> dict[str, Any]:
    return jet.item("anti-skid.out")


def test_a_lamp_in_time_after_a_finding_needs_a_yes(jet: Crew) -> None:
    assert "finding" in retest(jet, 9.0)
    assert retest(jet, 4.3) == ["confirm-retest"]
    said = [e for e in jet.effects if isinstance(e, Say)][-1]
    assert said.values == {"earlier": "anti skid out late", "now": "anti skid out"}
    jet.say("affirm")
    assert timed(jet)["outcome"] == "satisfactory"
    assert [mark[1:] for mark in marks(jet, "anti-skid.out")] == [(False, True)]


def test_a_lamp_in_time_that_is_denied_stays_a_finding(jet: Crew) -> None:
    retest(jet, 9.0)
    retest(jet, 4.3)
    jet.say("negative")
    assert timed(jet)["outcome"] == "unsatisfactory"


def test_a_lamp_whose_yes_comes_after_we_asked_is_to_be_repeated(jet: Crew) -> None:
    retest(jet, 9.0)
    retest(jet, 4.3)
    jet.now += 12.0
    jet.feed(Passed(jet.now))
    jet.say("affirm")
    assert timed(jet)["outcome"] == "unsatisfactory"


def test_a_first_timing_needs_no_yes(jet: Crew) -> None:
    assert retest(jet, 4.3)[:1] == ["window-within"]


def test_by_key_it_is_asked_about_as_well(prop: Crew) -> None:
    prop.say("going to gear", "two green", "left gear dark", "going to gear")
    key = prop.phrases()["three green"]
    assert prop.prompts(prop.feed(KeyPressed(key, prop.now + 1))) == ["confirm-change"]


def test_with_two_crew_the_yes_of_one_and_the_call_of_the_other() -> None:
    crew = Crew("ZZ-HAA", Began(0.0, True, 2))
    crew.power(battery="on", avionics="off")
    crew.say("going to fire alfa", "one fire light", "left fire dark")
    crew.say("going to stall", "going to fire alfa")
    assert crew.say("both fire lights") == ["confirm-change"]
    assert crew.say("affirm") == ["read-back-wanted"]
    key = crew.phrases()["both fire lights"]
    made = crew.feed(Heard(key, "both fire lights", crew.now + 0.2, crew.now + 1.0, 0.99, 1))
    assert crew.prompts(made)[:1] == ["ack"]
    assert crew.outcome("fire-alfa.lights") == "satisfactory"
    assert [mark[1:] for mark in marks(crew, "fire-alfa.lights")] == [(False, True)]
