"""Context does not survive a gap, and what hangs on it can be taken back whole.

The scenarios are an audit's: resumed hours later, a selector turned while the microphone was out,
a wrong position noticed two calls late, power found wrong after two positions.
"""

from __future__ import annotations

import pytest
from engine.driving import Drive

ALFA = ("fire-alfa.lights:2", "fire-alfa.bell:good")


@pytest.fixture
def tarn() -> Drive:
    """Loops A and B of ZZ-HAB are called in the same words."""
    drive = Drive("ZZ-HAB")
    drive.power(battery="on", avionics="off")
    drive.hear("select:fire-alfa")
    return drive


def hold(drive: Drive, seconds: float) -> None:
    drive.hear("command:stand-by")
    drive.now += seconds
    drive.hear("command:resume")


def test_after_a_long_hold_nothing_counts_before_a_yes(tarn: Drive) -> None:
    hold(tarn, 90)
    assert tarn.asked == ["battery powered up", "avionics shut down", "fire alfa"]
    assert tarn.buses == {}
    tarn.hear("fire-alfa.lights:2")
    assert tarn.said("confirm-position") is not None
    assert tarn.outcome("fire-alfa.lights") is None
    tarn.hear("command:affirm")
    tarn.hear("fire-alfa.lights:2")
    assert tarn.outcome("fire-alfa.lights") == "satisfactory"
    assert tarn.buses == {"battery": "on", "avionics": "off"}


def test_a_short_hold_asks_nothing(tarn: Drive) -> None:
    hold(tarn, 40)
    assert tarn.asked == []
    tarn.hear("fire-alfa.lights:2")
    assert tarn.outcome("fire-alfa.lights") == "satisfactory"


def test_after_a_lost_microphone_bad_news_leaves_nothing_good(tarn: Drive) -> None:
    tarn.hear(*ALFA)
    tarn.lose("microphone", 30)
    tarn.hear("fire-alfa.lights:0")  # of loop B, to which the selector was turned unheard
    assert tarn.outcome("fire-alfa.lights") is None
    assert tarn.outcome("fire-alfa.bell") == "satisfactory"
    tarn.hear("command:negative")
    assert tarn.position is None
    tarn.hear("select:fire-bravo")
    tarn.power(battery="on", avionics="off")
    tarn.hear("fire-bravo.lights:0")
    assert tarn.outcome("fire-bravo.lights") == "unsatisfactory"


def test_a_bus_called_during_the_hold_is_known_after_it(tarn: Drive) -> None:
    tarn.hear("command:stand-by")
    tarn.now += 50
    tarn.hear("power:avionics:on", "command:affirm")
    tarn.now += 20
    tarn.hear("command:resume")
    assert tarn.buses == {"avionics": "on"}
    assert tarn.asked == ["battery powered up", "fire alfa"]


def test_a_bus_called_instead_of_a_yes_keeps_the_place_in_question(tarn: Drive) -> None:
    hold(tarn, 90)
    tarn.hear("power:avionics:on")
    assert tarn.asked == ["battery powered up", "avionics powered up", "fire alfa"]
    tarn.hear("command:affirm")
    assert tarn.buses == {"battery": "on", "avionics": "on"}
    assert tarn.position == "fire-alfa"
    assert tarn.asked == []


def test_another_position_called_instead_of_a_yes_is_where_we_are(tarn: Drive) -> None:
    hold(tarn, 90)
    tarn.hear("select:fire-bravo", "command:affirm")
    assert tarn.position == "fire-bravo"
    assert tarn.buses == {"battery": "on", "avionics": "off"}


def test_after_a_session_was_cut_off_power_and_position_are_called_anew(tarn: Drive) -> None:
    tarn.lose("session", 36000)
    assert tarn.asked == []
    assert tarn.position is None
    tarn.hear("fire-alfa.lights:2", "fire-alfa.bell:good")
    assert tarn.outcome("fire-alfa.lights") is None
    assert tarn.outcome("fire-alfa.bell") is None


def test_the_test_is_not_completed_while_the_place_is_in_question(tarn: Drive) -> None:
    tarn.hear("selector:off")
    hold(tarn, 90)
    tarn.hear("command:complete")
    assert tarn.said("confirm-position") is not None
    tarn.hear("command:affirm", "command:complete")
    assert tarn.said("confirm-incomplete") is not None


def test_a_half_heard_call_after_a_gap_leads_to_the_question_of_the_place(tarn: Drive) -> None:
    hold(tarn, 90)
    tarn.hear("command:crew-change")  # drops the question
    tarn.mumble("fire-alfa.lights:2")
    assert tarn.asked == ["fire alfa"]


def test_shared_words_are_read_back_with_their_position(tarn: Drive) -> None:
    tarn.hear("fire-alfa.lights:2")
    assert tarn.said("ack") == {"words": "fire alfa both fire lights"}


def test_shared_words_after_missed_ones_are_read_back_with_their_position(tarn: Drive) -> None:
    tarn.mumble()  # "going to fire bravo", not understood at all
    tarn.hear("fire-alfa.lights:2")
    assert tarn.asked == ["both fire lights"]
    assert tarn.said("confirm") == {"claims": "fire alfa both fire lights"}
    assert tarn.outcome("fire-alfa.lights") is None
    tarn.hear("command:affirm")
    assert tarn.outcome("fire-alfa.lights") == "satisfactory"
    tarn.hear("fire-alfa.bell:good")  # the yes told where we are
    assert tarn.outcome("fire-alfa.bell") == "satisfactory"


def test_words_that_no_other_position_has_are_not_asked_about() -> None:
    drive = Drive("ZZ-HAB")
    drive.power(battery="on", avionics="off")
    drive.hear("select:gear")
    drive.mumble()
    drive.hear("gear.greens:3")
    assert drive.outcome("gear.greens") == "satisfactory"


def test_what_is_good_here_and_bad_elsewhere_is_asked_about_after_missed_words() -> None:
    """Of ZZ-HJA "master resets" is a finding at the captions, and good at the reversers."""
    drive = Drive("ZZ-HJA")
    drive.power(battery="on", avionics="off")
    drive.hear("select:reverser", "reverser.left:3", "reverser.right:3")
    drive.overhear()  # "going to captions"
    drive.hear("reverser.master:good")
    assert drive.outcome("reverser.master") is None
    assert drive.asked


def test_a_position_can_be_disregarded_whole(tarn: Drive) -> None:
    tarn.hear(*ALFA, "disregard:fire-alfa")
    assert [tarn.outcome("fire-alfa.lights"), tarn.outcome("fire-alfa.bell")] == [None, None]
    assert tarn.position is None
    tarn.hear("select:fire-bravo", "fire-bravo.lights:2")
    assert tarn.outcome("fire-bravo.lights") == "satisfactory"
    assert tarn.reason("fire-alfa.lights") == "the crew disregarded the position"


def test_it_can_be_disregarded_from_the_next_one(tarn: Drive) -> None:
    tarn.hear(*ALFA, "select:gear", "disregard:fire-alfa")
    assert tarn.position == "gear"
    assert tarn.outcome("fire-alfa.lights") is None


def test_a_finding_outlives_the_position_that_is_disregarded(tarn: Drive) -> None:
    tarn.hear("fire-alfa.lights:0", "disregard:fire-alfa")
    assert tarn.outcome("fire-alfa.lights") is None
    tarn.end()
    assert [finding["item"] for finding in tarn.summary["findings"]] == ["fire-alfa.lights"]


def test_power_found_wrong_late_voids_all_that_needs_any() -> None:
    drive = Drive("ZZ-HAB")
    drive.power(battery="on", avionics="off")
    drive.hear("select:gear", "gear.greens:3", "gear.horn:good")
    drive.hear("select:stall", "stall.pointer:good", "command:power-wrong")
    items = ("gear.greens", "gear.horn", "stall.pointer")
    assert [drive.outcome(item) for item in items] == ["void"] * 3
    assert drive.buses == {}
    assert drive.said("voided-all") == {"positions": "gear, stall"}
    drive.power(battery="on", avionics="off")
    drive.hear("stall.pointer:good")
    assert drive.outcome("stall.pointer") == "satisfactory"


def test_a_lamp_lit_before_a_lost_microphone_is_not_timed_before_a_yes() -> None:
    drive = Drive("ZZ-HJC")
    drive.power(battery="on", avionics="on")
    drive.hear("select:anti-skid", "anti-skid.caption:good")
    drive.lose("microphone", 1)
    drive.hear("selector:off")
    assert drive.engine.state.windows == ()


def test_say_again_puts_the_open_question_again(tarn: Drive) -> None:
    hold(tarn, 90)
    tarn.now += 30
    tarn.hear("command:say-again", "command:affirm")
    assert tarn.position == "fire-alfa"
    assert tarn.asked == []


def test_a_yes_to_a_position_that_is_not_fitted_does_not_say_where_the_selector_is() -> None:
    """Found among 390,000 played sessions: what was called next counted for where it had been."""
    drive = Drive("ZZ-HJC")
    drive.power(battery="on", avionics="on")
    drive.hear("select:gear")
    hold(drive, 90)
    drive.mumble("select:battery")
    drive.hear("gear.greens:3")
    assert drive.asked == ["going to battery temperature"]
    drive.hear("command:affirm")
    assert drive.said("position-not-fitted") is not None
    drive.power(battery="on", avionics="on")
    drive.hear("gear.greens:3")
    assert drive.outcome("gear.greens") is None
    assert drive.said("confirm-position") is not None


def test_a_position_that_is_called_answers_where_the_selector_is(tarn: Drive) -> None:
    """Found by the proof: the place from before the gap stayed in question after a new one."""
    hold(tarn, 90)
    assert tarn.asked == ["battery powered up", "avionics shut down", "fire alfa"]
    tarn.hear("select:fire-bravo")
    tarn.hear("command:negative")  # to the buses: the place has been called meanwhile
    assert tarn.position == "fire-bravo"
    tarn.power(battery="on", avionics="off")
    tarn.hear("fire-bravo.lights:2")
    assert tarn.outcome("fire-bravo.lights") == "satisfactory"


def test_a_yes_after_a_new_position_does_not_speak_of_the_one_before(tarn: Drive) -> None:
    hold(tarn, 90)
    tarn.hear("select:fire-bravo")
    tarn.mumble()
    tarn.hear("command:affirm")
    assert tarn.buses == {"battery": "on", "avionics": "off"}
    # What was not understood may have been another position: the yes was to the buses alone.
    tarn.hear("fire-bravo.lights:2")
    assert tarn.outcome("fire-bravo.lights") is None
