"""The registration is affirmed with the first bus; before that nothing counts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fleet import Crew, loaded

from voicecheck.engine.effects import Note, Say
from voicecheck.engine.events import Heard, KeyPressed, Lost, Restored, Unclear


@pytest.fixture
def jet() -> Crew:
    return Crew("ZZ-HJC")


@pytest.fixture
def unpowered() -> Crew:
    """A jet whose panel at rest is looked at under any power (no shipped item is)."""
    files = loaded("ZZ-HJC")
    *others, rest = files.checklist.positions
    panel = replace(rest.items[0], power={})
    rest = replace(rest, items=(panel, *rest.items[1:]))
    checklist = replace(files.checklist, positions=(*others, rest))
    return Crew("ZZ-HJC", loaded=replace(files, checklist=checklist))


def spoken(crew: Crew, prompt: str) -> dict[str, str]:
    """The values of a prompt, when it was said last."""
    found = [e for e in crew.effects if isinstance(e, Say) and e.prompt == prompt]
    return dict(found[-1].values)


def cut_off(crew: Crew) -> list[str]:
    """The program dies, and the session is resumed."""
    made = crew.feed(Lost("session", crew.now))
    made += crew.feed(Restored("session", crew.now))
    return crew.prompts(made)


def test_registration_and_first_bus_are_asked_in_one_question(jet: Crew) -> None:
    assert jet.say("battery on") == ["confirm-airframe"]
    asked = {"registration": "ZZ-HJC", "claims": "battery powered up"}
    assert spoken(jet, "confirm-airframe") == asked
    assert jet.say("avionics on", "affirm") == ["confirm-airframe", "power-set"]
    notes = [e for e in jet.effects if isinstance(e, Note) and e.kind == "airframe"]
    assert [note.facts["registration"] for note in notes] == ["ZZ-HJC"]


def test_no_later_bus_asks_for_it_again(jet: Crew) -> None:
    jet.say("battery on", "affirm")
    assert jet.say("avionics on") == ["confirm"]


def test_a_no_leaves_both_open_and_says_what_to_do(jet: Crew) -> None:
    assert jet.say("battery on", "negative") == ["confirm-airframe", "airframe-denied"]
    assert spoken(jet, "airframe-denied") == {"registration": "ZZ-HJC"}
    assert jet.engine.state.power["battery"] is None
    assert not jet.engine.state.airframe
    assert jet.say("battery on") == ["confirm-airframe"]


@pytest.mark.parametrize("no", ["disregard", "correction"])
def test_taken_back_it_is_no_yes(jet: Crew, no: str) -> None:
    jet.say("battery on", no)
    assert jet.say("battery on") == ["confirm-airframe"]


def test_a_key_affirms_it_as_well(jet: Crew) -> None:
    jet.feed(KeyPressed("power:battery:on", 1.0))
    jet.feed(KeyPressed("command:affirm", 2.0))
    assert jet.engine.state.airframe


def test_a_bus_that_was_guessed_is_asked_with_it(jet: Crew) -> None:
    made = jet.feed(Unclear(0.2, 1.0, ("power:battery:on",)))
    assert jet.prompts(made) == ["confirm-airframe"]


def test_a_yes_to_something_else_does_not_affirm_it(jet: Crew) -> None:
    jet.now = 1.0
    made = jet.feed(Unclear(0.2, 1.0, ("select:fire",)))
    assert jet.prompts(made) == ["confirm"]
    jet.say("affirm")
    assert not jet.engine.state.airframe


def test_what_needs_no_power_waits_for_the_registration_too(unpowered: Crew) -> None:
    unpowered.say("selector off")
    assert unpowered.say("panel dark") == ["airframe-first"]
    assert unpowered.outcome("off.panel") == "void"


def test_bad_news_before_the_registration_leaves_nothing_good(unpowered: Crew) -> None:
    unpowered.power(battery="on")
    unpowered.say("selector off", "panel dark")
    cut_off(unpowered)
    unpowered.say("selector off")
    assert "airframe-first" in unpowered.say("light still showing")
    assert unpowered.outcome("off.panel") == "void"


def test_a_resumed_session_asks_for_it_again(jet: Crew) -> None:
    """Hours may have passed, and the crew may sit in another aircraft."""
    jet.power(battery="on", avionics="on")
    jet.say("going to fire")
    assert "call-power" in cut_off(jet)
    jet.say("going to fire")
    assert "not-counted" in jet.say("both fire lights")
    assert jet.engine.state.records["fire.lights"].now.outcome == "void"
    assert jet.say("battery on") == ["confirm-airframe"]
    jet.say("affirm")
    jet.power(avionics="on")
    jet.say("both fire lights")
    assert jet.outcome("fire.lights") == "satisfactory"


def test_a_lamp_that_was_lit_before_the_cut_is_not_timed_after_it(jet: Crew) -> None:
    jet.power(battery="on", avionics="on")
    jet.say("going to anti skid", "anti skid illuminated")
    cut_off(jet)
    jet.say("selector off")
    assert jet.engine.state.windows == ()


def test_a_question_of_before_the_cut_is_not_asked_again(jet: Crew) -> None:
    jet.say("battery on", "affirm", "avionics on")
    cut_off(jet)
    assert jet.engine.state.question is None
    assert jet.say("avionics on") == ["confirm-airframe"]


def test_a_lost_microphone_does_not_put_it_in_doubt(jet: Crew) -> None:
    jet.power(battery="on")
    jet.feed(Lost("microphone", jet.now))
    jet.feed(Restored("microphone", jet.now))
    assert jet.engine.state.airframe


def test_a_timed_lamp_without_power_waits_for_the_registration() -> None:
    """None of the fleet has one; its time would begin in perhaps another aircraft."""
    plain = loaded("ZZ-HJC")
    positions = tuple(
        replace(p, power={}, items=tuple(replace(i, power={}) for i in p.items))
        if p.id == "anti-skid"
        else p
        for p in plain.checklist.positions
    )
    crew = Crew(
        "ZZ-HJC", loaded=replace(plain, checklist=replace(plain.checklist, positions=positions))
    )
    crew.power(battery="on")
    crew.say("going to anti skid", "anti skid illuminated")
    cut_off(crew)
    crew.say("selector off")
    assert crew.engine.state.windows == ()


def test_what_is_not_fitted_in_a_fitted_position_is_named() -> None:
    """On ZZ-HAC the propellers are tested, but no autofeather; and no battery temperature."""
    crew = Crew("ZZ-HAC")
    named = spoken(crew, "not-fitted")["positions"].split(", ")
    assert named == [
        "propellers auto feather illuminated",
        "cabin ice caption illuminated",
        "battery temperature",
    ]


@pytest.mark.parametrize("real", ["ZZ-HJB", "ZZ-HJC", "ZZ-HJD"])
def test_with_the_file_of_another_airframe_a_no_lets_nothing_count(real: str) -> None:
    """The crew of `real` has chosen ZZ-HJA, hears that, and says no: all calls are refused."""
    crew = Crew("ZZ-HJA")
    for phrase in ("battery on", "negative"):
        crew.say(phrase)
    for position in crew.engine.checklist.positions:
        crew.say(position.select[0])
        for item in position.items:
            key = item.readings[0].key
            crew.now += 1.0
            crew.feed(Heard(key, "", crew.now - 0.8, crew.now, 0.99))
    outcomes = {item["outcome"] for item in crew.result["items"]}
    assert outcomes <= {"void", "not tested", "not fitted"}, real
