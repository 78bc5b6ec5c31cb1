"""A half-understood call of another position: nothing counts until the selector's place is known.

Both loops of the fire detector are called in the same words, so a call that was meant for one
could be written down for the other: good for good, and bad news lost.
"""

from __future__ import annotations

from typing import Any

import pytest
from fleet import Crew

from voicecheck.engine.effects import Note
from voicecheck.engine.events import Ended, Unclear
from voicecheck.engine.phases import Phase

BRAVO, GEAR, OFF = "select:fire-bravo", "select:gear", "selector:off"
LIGHTS = "both fire lights"
DARK = "no fire lights"


@pytest.fixture
def alfa() -> Crew:
    """At the first fire loop, powered, with nothing called there yet."""
    crew = Crew("ZZ-HAA")
    crew.power(battery="on", avionics="off")
    crew.say("going to fire alfa")
    return crew


def half(crew: Crew, *guess: str) -> list[str]:
    """Words that were half understood; the prompts that follow."""
    crew.now += 1.0
    return crew.prompts(crew.feed(Unclear(crew.now - 0.8, crew.now, guess)))


def outcome(crew: Crew, item: str) -> str | None:
    """The standing outcome while the session runs."""
    record = crew.engine.state.records.get(item)
    return record.now.outcome.value if record and record.now else None


def refusals(crew: Crew) -> list[Any]:
    return [e.facts["reason"] for e in crew.effects if isinstance(e, Note) and e.kind == "refused"]


def test_an_item_does_not_count_while_the_position_is_asked_about(alfa: Crew) -> None:
    assert half(alfa, BRAVO) == ["confirm"]
    assert alfa.say(LIGHTS) == ["confirm-position"]
    assert outcome(alfa, "fire-alfa.lights") is None
    assert refusals(alfa) == ["'going to fire bravo' was half understood and not answered"]
    alfa.say("affirm")
    assert alfa.engine.state.position == "fire-bravo"
    alfa.say(LIGHTS)
    assert outcome(alfa, "fire-bravo.lights") == "satisfactory"
    assert alfa.outcome("fire-alfa.lights") == "not tested"


def test_after_a_no_the_call_counts_where_the_selector_is(alfa: Crew) -> None:
    half(alfa, BRAVO)
    alfa.say(LIGHTS)
    assert alfa.say("negative") == ["call-again"]
    assert alfa.say(LIGHTS) == ["confirm"]  # the words were others, perhaps of a third position
    alfa.say("affirm")
    assert alfa.outcome("fire-alfa.lights") == "satisfactory"


@pytest.mark.parametrize("word", ["disregard", "correction"])
def test_taking_the_position_back_is_a_no(alfa: Crew, word: str) -> None:
    half(alfa, BRAVO)
    alfa.say(word)
    assert alfa.say(LIGHTS) == ["confirm"]  # not refused, but read back with its position


def test_calling_the_position_again_is_an_answer(alfa: Crew) -> None:
    half(alfa, BRAVO)
    alfa.say(LIGHTS, "going to fire bravo")
    assert alfa.engine.state.question is None
    assert alfa.say(LIGHTS) == ["ack"]
    assert outcome(alfa, "fire-bravo.lights") == "satisfactory"
    assert outcome(alfa, "fire-alfa.lights") is None


def test_bad_news_that_may_be_of_either_leaves_nothing_good(alfa: Crew) -> None:
    alfa.say(LIGHTS)
    half(alfa, BRAVO)
    assert alfa.say(DARK) == ["confirm-position"]
    alfa.say("negative")
    assert alfa.outcome("fire-alfa.lights") == "not tested"
    (past,) = alfa.item("fire-alfa.lights")["history"]
    assert past["reason"] == "'no fire lights' was called, perhaps of another position"


def test_correction_takes_back_the_refused_call_and_the_question_stays(alfa: Crew) -> None:
    half(alfa, BRAVO)
    alfa.say(LIGHTS, "correction")
    assert alfa.say(LIGHTS) == ["confirm-position"]


def test_it_holds_where_another_question_was_open(alfa: Crew) -> None:
    alfa.say("avionics on")
    assert half(alfa, BRAVO) == ["confirm"], "the bus is asked about once more"
    alfa.say("negative", "avionics off", "affirm")
    assert alfa.say(LIGHTS) == ["confirm-position"]
    assert outcome(alfa, "fire-alfa.lights") is None


def test_what_was_said_before_the_position_counts_at_its_yes(alfa: Crew) -> None:
    half(alfa, "fire-alfa.lights:0")
    assert half(alfa, BRAVO) == ["confirm"], "no fire lights is asked about once more"
    assert alfa.say("affirm") == ["finding"]
    assert alfa.say(LIGHTS) == ["confirm-position"]
    alfa.say("affirm")
    assert alfa.outcome("fire-alfa.lights") == "unsatisfactory"


def test_it_holds_where_it_was_too_much_to_ask(alfa: Crew) -> None:
    for _ in range(4):
        half(alfa)
    assert half(alfa, BRAVO) == []
    assert alfa.say(LIGHTS) == ["confirm-position"]


def test_it_holds_over_a_change_of_crew_and_a_pause(alfa: Crew) -> None:
    half(alfa, BRAVO)
    alfa.say("change of crew")
    alfa.say("stand by", "resume checklist")
    assert alfa.say(LIGHTS) == ["confirm-position"]


def test_each_position_has_its_own_answer_the_latest_first(alfa: Crew) -> None:
    half(alfa, BRAVO)
    half(alfa, GEAR)
    alfa.say(LIGHTS)
    assert alfa.engine.state.question is not None
    assert [c.callout for c in alfa.engine.state.question.claims] == [GEAR]
    alfa.say("negative")
    assert alfa.say(LIGHTS) == ["confirm-position"]
    alfa.say("affirm")
    assert alfa.engine.state.position == "fire-bravo"


def test_what_was_half_said_after_the_affirmed_position_stays_open(alfa: Crew) -> None:
    half(alfa, BRAVO)
    half(alfa, "select:fire-alfa")
    alfa.say("affirm")
    assert alfa.engine.state.position == "fire-bravo"
    assert alfa.say(LIGHTS) == ["confirm-position"], "it may have gone back"
    assert outcome(alfa, "fire-bravo.lights") is None


def test_a_half_understood_item_is_not_asked_about_before_the_position(alfa: Crew) -> None:
    alfa.say(LIGHTS)
    half(alfa, BRAVO)
    alfa.say("avionics off", "affirm")
    assert half(alfa, "fire-alfa.lights:0") == ["outstanding", "confirm-position"]
    assert outcome(alfa, "fire-alfa.lights") is None, "bad news, perhaps of this one"


def test_the_position_where_the_selector_is_known_to_be_is_no_doubt(alfa: Crew) -> None:
    half(alfa, "select:fire-alfa")
    assert alfa.say(LIGHTS) == ["confirm"]  # not refused, but read back with its position


def test_the_test_is_not_completed_while_the_selector_may_have_left_off(alfa: Crew) -> None:
    alfa.say("selector off", "panel dark")
    half(alfa, BRAVO)
    assert alfa.say("test complete") == ["confirm-position"]
    assert alfa.engine.phase is Phase.AT_REST
    alfa.say("affirm")
    assert alfa.engine.state.position == "fire-bravo"
    assert alfa.outcome("off.panel") == "not tested"


def test_a_lamp_that_must_go_out_is_timed_from_the_half_understood_call() -> None:
    jet = Crew("ZZ-HJC")
    jet.power(battery="on", avionics="on")
    jet.say("going to anti skid", "anti skid illuminated")
    half(jet, OFF)
    left = jet.now
    jet.say("affirm")
    jet.say_at(left + 4.0 + 0.3, "anti skid out")
    jet.feed(Ended(jet.now, "the test is over"))
    (timing,) = jet.result["timings"]
    assert timing["low"] < 4.0 < timing["high"]


def test_an_airframe_that_lacks_the_position_asks_all_the_same() -> None:
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    crew.say("going to captions")
    half(crew, "select:battery")
    assert crew.say("panel complete") == ["confirm-position"]
    assert crew.say("affirm") == ["position-not-fitted"]
    assert crew.say("panel complete") == ["ack"]
