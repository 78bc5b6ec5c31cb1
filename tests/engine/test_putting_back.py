"""A switch that was thrown is put back, and called so: after a finding most of all."""

from __future__ import annotations

import pytest
from fleet import Crew

from voicecheck.engine.standing import Standing

BACK = "windshield.heat-back"


@pytest.fixture
def jet() -> Crew:
    crew = Crew("ZZ-HJA")
    crew.power(battery="on", avionics="off")
    crew.say("going to windshield")
    return crew


def said(crew: Crew, prompt: str) -> list[dict[str, str]]:
    return [dict(e.values) for e in crew.effects if getattr(e, "prompt", "") == prompt]


def test_it_is_put_back_after_a_throw_not_before(jet: Crew) -> None:
    assert jet.say("windshield heat off") == ["first"]
    jet.say("low heat dark")
    assert jet.say("windshield heat off")[0] == "ack"
    assert jet.outcome(BACK) == "satisfactory"


@pytest.mark.parametrize("low", ["low heat illuminated", "low heat dark"])
@pytest.mark.parametrize("high", ["high heat illuminated", "high heat dark"])
def test_it_is_wanted_whatever_the_throws_have_shown(jet: Crew, low: str, high: str) -> None:
    jet.say(low, high)
    assert jet.say("going to gear")[0] == "left-early"
    assert said(jet, "left-early")[-1]["items"] == "windshield heat off"


def test_it_is_named_at_the_end(jet: Crew) -> None:
    jet.say("low heat dark", "high heat dark", "selector off", "panel dark")
    assert "not-put-back" in jet.say("test complete")
    assert said(jet, "not-put-back") == [{"items": "windshield heat off"}]
    jet.say("affirm")
    assert jet.result["complete"] is False
    (told,) = [gap for gap in jet.result["not_tested"] if gap["id"] == BACK]
    assert told["reason"] == "thrown, and not called back"


def test_it_is_named_where_the_test_is_abandoned(jet: Crew) -> None:
    jet.say("low heat dark")
    assert jet.say("abandon the test") == ["not-put-back", "ask-reason"]


def test_a_switch_that_nobody_threw_is_not_named(jet: Crew) -> None:
    assert jet.say("abandon the test") == ["ask-reason"]
    jet.say("negative", "selector off", "panel dark")
    assert "not-put-back" not in jet.say("test complete")


def test_it_may_be_put_back_in_a_later_visit(jet: Crew) -> None:
    jet.say("low heat dark", "high heat dark", "selector off", "going to windshield")
    assert jet.say("windshield heat off")[0] == "ack"
    assert jet.outcome(BACK) == "satisfactory"


def test_a_switch_thrown_again_is_to_be_put_back_again(jet: Crew) -> None:
    jet.say("low heat dark", "high heat illuminated", "windshield heat off")
    assert "outstanding" in jet.say("low heat dark")  # the very same call, and thrown for it
    assert jet.outcome(BACK) == "not tested"
    assert jet.item(BACK)["reason"] == "the switch was thrown again"


def test_a_throw_that_does_not_count_was_thrown_all_the_same() -> None:
    crew = Crew("ZZ-HJA")
    crew.power(battery="on", avionics="off")
    crew.say("going to windshield", "low heat dark", "high heat dark", "windshield heat off")
    crew.say("going to gear", "battery off", "affirm", "going to windshield")
    assert "not-counted" in crew.say("high heat illuminated")
    assert crew.outcome(BACK) == "not tested"


def test_it_may_not_go_back(jet: Crew) -> None:
    jet.say("low heat illuminated", "high heat illuminated")
    assert "finding" in jet.say("windshield heat stuck")
    (finding,) = jet.findings()
    assert finding["what"] == "windshield heat could not be put back"


def test_a_test_is_not_complete_with_a_switch_left_thrown(jet: Crew) -> None:
    """An item behind a bad stage is let be; this one never is."""
    jet.say("low heat dark", "high heat dark")
    position = jet.engine.checklist.position("windshield")
    open_items = Standing(jet.engine.checklist, jet.engine.state).open_items(position)
    assert [item.id for item in open_items] == [BACK]
