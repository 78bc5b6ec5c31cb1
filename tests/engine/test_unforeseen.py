"""What nobody foresaw: seen or heard beside what is expected, called at its position."""

from __future__ import annotations

import pytest
from fleet import FLEET, Crew

from voicecheck.checklist.resolved import Grade
from voicecheck.engine.events import Unclear


@pytest.fixture
def prop() -> Crew:
    crew = Crew("ZZ-HAA")
    crew.power(battery="on", avionics="off")
    return crew


@pytest.mark.parametrize("registration", sorted(FLEET))
def test_it_can_be_called_at_every_position_and_is_never_good(registration: str) -> None:
    crew = Crew(registration)
    for position in crew.engine.checklist.positions:
        crew.say(position.select[0])
        assert position.other is not None
        for reading in position.other.readings:
            assert reading.grade is Grade.BAD
            assert reading.key in crew.engine.offers()


def test_it_is_a_finding_of_the_position_with_an_entry_of_its_own(prop: Crew) -> None:
    prop.say("going to gear")
    assert prop.say("other finding")[0] == "other-finding"
    (finding,) = prop.findings()
    assert finding["item"] == "gear.other"
    assert finding["position_name"] == "Landing gear indication and horn"
    assert prop.item("gear.other")["called"] == "other finding"


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("extra light", "a light that should not be lit"),
        ("stuck light", "a light that stays lit"),
        ("dim light", "a dim light"),
        ("flickering", "a light that flickers"),
        ("wrong colour", "a light of the wrong colour"),
        ("strange noise", "a sound that should not be heard"),
    ],
)
def test_a_remark_says_what_it_was(prop: Crew, words: str, what: str) -> None:
    prop.say("going to gear", words)
    assert [finding["what"] for finding in prop.findings()] == [what]


def test_it_needs_no_power(prop: Crew) -> None:
    prop.say("battery off", "affirm", "going to gear")
    assert prop.say("strange noise")[0] == "other-finding"


def test_all_that_was_called_of_a_position_stands_together(prop: Crew) -> None:
    prop.say("going to gear", "extra light", "strange noise")
    (finding,) = prop.findings()
    assert finding["called"] == "extra light, strange noise"
    assert finding["what"] == "a light that should not be lit, a sound that should not be heard"
    assert len(prop.result["findings"]) == 1


def test_another_visit_takes_nothing_of_it_away(prop: Crew) -> None:
    prop.say("going to gear", "extra light", "going to stall", "going to gear", "dim light")
    assert [finding["called"] for finding in prop.findings()] == ["extra light, dim light"]
    assert len(prop.result["findings"]) == 1


def test_it_stands_beside_what_was_called_good(prop: Crew) -> None:
    prop.say("going to gear", "three green", "extra light", "three green")
    assert prop.outcome("gear.greens") == "satisfactory"
    assert prop.outcome("gear.other") == "unsatisfactory"


def test_each_position_has_its_own(prop: Crew) -> None:
    prop.say("going to gear", "stuck light", "going to stall", "stuck light")
    assert [finding["item"] for finding in prop.findings()] == ["gear.other", "stall.other"]


def test_nothing_is_missing_where_it_was_not_called(prop: Crew) -> None:
    prop.say("going to gear", "three green")
    assert not [i for i in prop.result["items"] if i["id"].endswith(".other")]
    assert not [gap for gap in prop.result["not_tested"] if gap["id"].endswith(".other")]


def test_correction_takes_the_last_one_back(prop: Crew) -> None:
    prop.say("going to gear", "extra light", "strange noise", "correction")
    assert [finding["called"] for finding in prop.findings()] == ["extra light"]


def test_correction_takes_the_only_one_back(prop: Crew) -> None:
    prop.say("going to gear", "extra light", "correction")
    assert prop.findings() == []
    assert not [i for i in prop.result["items"] if i["id"] == "gear.other"]
    assert not [gap for gap in prop.result["not_tested"] if gap["id"] == "gear.other"]


def test_a_repeat_is_one_finding_and_stands_when_the_repeat_is_taken_back(prop: Crew) -> None:
    prop.say("going to gear", "extra light", "strange noise")
    assert prop.say("extra light")[0] == "ack"
    prop.say("correction")
    assert [finding["called"] for finding in prop.findings()] == ["extra light, strange noise"]


def test_half_heard_it_is_asked_about(prop: Crew) -> None:
    prop.say("going to gear")
    prop.feed(Unclear(prop.now, prop.now + 0.8, ("gear.other:dim",)))
    prop.now += 0.8
    assert prop.say("affirm")[0] == "other-finding"
    assert [finding["called"] for finding in prop.findings()] == ["dim light"]


def test_what_was_called_at_off_stands_when_the_selector_has_left(prop: Crew) -> None:
    prop.say("selector off", "stuck light", "going to gear", "selector off")
    assert prop.outcome("off.other") == "unsatisfactory"
    assert [finding["called"] for finding in prop.findings()] == ["stuck light"]


def test_where_another_position_may_be_selected_it_is_not_counted_there(prop: Crew) -> None:
    """Rule 4.1: the crew says where the selector is, and calls it again."""
    prop.say("going to gear")
    prop.feed(Unclear(prop.now, prop.now + 0.8, ("select:stall",)))
    prop.now += 0.8
    assert prop.say("extra light") == ["confirm-position"]
    prop.say("affirm", "extra light")
    assert [finding["item"] for finding in prop.findings()] == ["stall.other"]
