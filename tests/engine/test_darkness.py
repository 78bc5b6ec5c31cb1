"""What is good because nothing shows: under power, with nothing timed, and nothing called lit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fleet import Crew, loaded

from voicecheck.checklist.resolved import OFF, Shows
from voicecheck.engine.events import Began


@pytest.fixture
def jet() -> Crew:
    """The lamp of its anti-skid must go out 1.5 to 5.5 seconds after the selector has left."""
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    return crew


def anti_skid(crew: Crew) -> float:
    """Its lamp is called lit and left; when the selector left."""
    crew.say("going to anti skid", "anti skid illuminated", "selector off")
    return crew.now


@pytest.mark.parametrize("registration", ["ZZ-HAB", "ZZ-HJA"])
def test_a_dead_bus_makes_every_panel_dark(registration: str) -> None:
    crew = Crew(registration)
    crew.power(battery="off", avionics="off")
    crew.say("selector off")
    assert "not-counted" in crew.say("panel dark")
    assert crew.outcome("off.panel") == "void"


def test_a_caption_that_stays_dark_proves_nothing_without_power() -> None:
    crew = Crew("ZZ-HAA")
    crew.power(battery="off")
    crew.say("going to cabin")
    assert "not-counted" in crew.say("door caption dark")
    assert crew.outcome("cabin.door") == "void"


def test_something_lit_at_rest_under_unknown_power_leaves_nothing_good(jet: Crew) -> None:
    jet.say("selector off", "panel dark", "battery off", "light still showing")
    assert jet.outcome("off.panel") == "void"


def test_panel_dark_does_not_count_while_a_lamp_is_timed(jet: Crew) -> None:
    left = anti_skid(jet)
    assert jet.say_at(left + 0.5, "panel dark") == ["not-dark"]
    assert "finding" in jet.say_at(left + 8, "anti skid stays lit")
    assert jet.outcome("off.panel") == "not tested"
    assert [finding["item"] for finding in jet.findings()] == ["anti-skid.out"]


def test_the_crew_is_told_which_call_is_wanted(jet: Crew) -> None:
    anti_skid(jet)
    jet.say("panel dark")
    (told,) = [e for e in jet.effects if getattr(e, "prompt", "") == "not-dark"]
    assert told.values == {"calls": "anti skid out, anti skid stays lit"}


def test_bad_news_at_rest_counts_while_a_lamp_is_timed(jet: Crew) -> None:
    anti_skid(jet)
    assert "finding" in jet.say("light still showing")


def test_what_was_refused_may_have_been_the_call_of_the_lamp(jet: Crew) -> None:
    """Dark at one second, and called out by its name at four: nobody knows which it was."""
    left = anti_skid(jet)
    jet.say_at(left + 1.0, "panel dark")
    assert jet.say_at(left + 4.3, "anti skid out") == ["window-close"]
    assert jet.outcome("anti-skid.out") == "not tested"


def test_the_same_call_is_in_time_without_it(jet: Crew) -> None:
    left = anti_skid(jet)
    assert jet.say_at(left + 4.3, "anti skid out") == ["window-within"]
    assert jet.say("panel dark")[0] == "ack"


def test_a_lamp_called_dark_with_the_panel_and_then_not_at_all_is_to_be_repeated(
    jet: Crew,
) -> None:
    anti_skid(jet)
    jet.say("panel dark")
    jet.wait(20)
    jet.wait(20)
    assert jet.outcome("anti-skid.out") == "not tested"


def test_panel_dark_after_a_lamp_that_stays_lit_needs_a_yes(jet: Crew) -> None:
    left = anti_skid(jet)
    jet.say_at(left + 8, "anti skid stays lit")
    assert jet.say("panel dark") == ["confirm-change"]
    jet.say("light still showing")
    assert jet.outcome("off.panel") == "unsatisfactory"


def test_a_yes_to_it_counts(jet: Crew) -> None:
    left = anti_skid(jet)
    jet.say_at(left + 8, "anti skid stays lit")
    jet.say("panel dark")
    assert jet.say("affirm")[0] == "ack"
    assert jet.say("panel dark") == ["ack"]
    assert jet.outcome("off.panel") == "satisfactory"


def test_a_lamp_that_was_out_late_is_out(jet: Crew) -> None:
    """It was called out, and measured: nothing speaks against a dark panel."""
    left = anti_skid(jet)
    assert "finding" in jet.say_at(left + 7.5, "anti skid out")
    assert jet.say("panel dark")[0] == "ack"


@pytest.mark.parametrize("place", ["going to gear", "selector off"])
def test_panel_dark_after_something_else_was_seen_needs_a_yes(jet: Crew, place: str) -> None:
    jet.say(place, "stuck light", "selector off")
    assert jet.say("panel dark") == ["confirm-change"]
    assert jet.outcome("off.panel") == "not tested"


def test_what_is_seen_after_panel_dark_reopens_it(jet: Crew) -> None:
    jet.say("selector off", "panel dark")
    assert "outstanding" in jet.say("flickering")
    jet.say("panel dark", "affirm")
    assert "outstanding" in jet.say("flickering")  # seen again, and dark no more
    assert jet.outcome("off.panel") == "not tested"
    assert jet.outcome("off.other") == "unsatisfactory"


def test_half_a_read_back_of_panel_dark_does_not_outlive_what_is_seen_since() -> None:
    fleet = loaded("ZZ-HJC")
    rest = fleet.checklist.position(OFF)
    marked = replace(rest, items=tuple(replace(item, read_back=True) for item in rest.items))
    positions = (*fleet.checklist.positions[:-1], marked)
    checklist = replace(fleet.checklist, positions=positions)
    crew = Crew("ZZ-HJC", Began(0.0, True, 1), loaded=replace(fleet, checklist=checklist))
    crew.power(battery="on", avionics="on")
    crew.say("selector off")
    assert crew.say("panel dark") == ["read-back-wanted"]
    crew.say("extra light")
    assert crew.say("panel dark") == ["confirm-change"]
    assert crew.say("affirm") == ["read-back-wanted"]
    assert crew.outcome("off.panel") == "not tested"


def test_a_caption_of_its_own_is_not_held_up_by_another_lamp(jet: Crew) -> None:
    jet.say("going to anti skid", "anti skid illuminated", "going to cabin altitude")
    assert jet.say("door caption dark")[0] == "ack"


def test_a_panel_denies_every_timed_lamp_and_whatever_else_is_seen() -> None:
    checklist = Crew("ZZ-HJC").engine.checklist
    (panel,) = checklist.position(OFF).items
    assert panel.shows is Shows.NOTHING
    others = [position.other.id for position in checklist.positions if position.other]
    assert panel.dark_of == ("anti-skid.out", *others)
    assert len(others) == len(checklist.positions)
