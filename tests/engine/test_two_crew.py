"""Two crew: read-back of marked items, disagreement, and a change of crew."""

from __future__ import annotations

import pytest
from fleet import Crew

from voicecheck.engine.events import Began, Heard, KeyPressed, Unclear


def two_crew(channels: int) -> Crew:
    crew = Crew("ZZ-HAA", Began(0.0, second=True, channels=channels))
    crew.power(battery="on", avionics="off")
    crew.say("going to fire alfa")
    return crew


def call(crew: Crew, words: str, channel: int) -> list[str]:
    crew.now += 2.0 if words == "affirm" else 1.0
    made = crew.feed(Heard(crew.phrases()[words], words, crew.now - 0.8, crew.now, 0.99, channel))
    return crew.prompts(made)


def test_a_marked_item_counts_after_the_read_back_of_the_other() -> None:
    crew = two_crew(2)
    assert call(crew, "both fire lights", 0) == ["read-back-wanted"]
    assert "fire-alfa.lights" not in crew.engine.state.records
    assert call(crew, "both fire lights", 0) == ["read-back-again"]
    assert "fire-alfa.lights" not in crew.engine.state.records
    call(crew, "both fire lights", 1)
    assert crew.outcome("fire-alfa.lights") == "satisfactory"
    assert crew.item("fire-alfa.lights")["read_back"] == "by the other microphone"


def test_on_one_microphone_the_turn_order_tells_and_the_record_says_so() -> None:
    crew = two_crew(1)
    crew.say("both fire lights", "both fire lights")
    assert crew.item("fire-alfa.lights")["read_back"] == "by turn order"


def test_without_the_read_back_the_item_is_not_tested() -> None:
    crew = two_crew(1)
    crew.say("both fire lights")
    assert "left-early" in crew.say("selector off")
    assert crew.outcome("fire-alfa.lights") == "not tested"


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("second", ["one fire light", "no fire lights"])
def test_a_disagreement_is_asked_about_and_neither_call_is_taken(
    channels: int, second: str
) -> None:
    crew = two_crew(channels)
    call(crew, "both fire lights", 0)
    assert call(crew, second, 1) == ["disagreement"]
    assert crew.engine.state.records["fire-alfa.lights"].now is None
    call(crew, "both fire lights", 1)
    call(crew, "both fire lights", 0)
    assert crew.outcome("fire-alfa.lights") == "satisfactory"


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("good_before", [False, True])
def test_what_one_of_them_called_bad_is_a_finding_until_they_agree(
    channels: int, good_before: bool
) -> None:
    """Good by both, then one sees it dark, and the session ends: maintenance hears of it."""
    crew = two_crew(channels)
    if good_before:
        call(crew, "both fire lights", 0)
        call(crew, "both fire lights", 1)
        crew.say("going to fire alfa")
    call(crew, "both fire lights", 0)
    assert call(crew, "one fire light", 1) == ["disagreement"]
    item = crew.item("fire-alfa.lights")
    assert (item["outcome"], item["reason"]) == (
        "not tested",
        "one of the crew called 'both fire lights', the other 'one fire light'",
    )
    (finding,) = crew.findings()
    assert (finding["item"], finding["called"]) == ("fire-alfa.lights", "one fire light")
    assert item["history"][-1]["called"] == "one fire light"


def test_once_they_agree_what_one_had_called_bad_is_no_finding_any_more() -> None:
    crew = two_crew(2)
    call(crew, "both fire lights", 0)
    call(crew, "one fire light", 1)
    call(crew, "both fire lights", 1)
    call(crew, "both fire lights", 0)
    assert crew.outcome("fire-alfa.lights") == "satisfactory"
    assert crew.findings() == []
    assert [f["called"] for f in crew.result["findings"]] == ["one fire light"], "told all the same"


def test_correction_takes_back_what_made_the_difference() -> None:
    crew = two_crew(2)
    call(crew, "both fire lights", 0)
    call(crew, "one fire light", 1)
    assert crew.say("correction") == ["corrected"]
    assert crew.findings() == []
    assert crew.item("fire-alfa.lights")["reason"] == "corrected by the crew"


def test_bad_news_from_the_first_counts_at_once_and_good_news_needs_a_yes() -> None:
    crew = two_crew(2)
    call(crew, "no fire lights", 0)
    assert crew.engine.state.records["fire-alfa.lights"].now is not None
    assert call(crew, "both fire lights", 1) == ["confirm-change"]
    call(crew, "affirm", 0)
    assert crew.outcome("fire-alfa.lights") == "unsatisfactory"  # the read-back is still wanted


def test_with_a_microphone_each_one_yes_to_good_news_after_bad_is_enough() -> None:
    """The pilot answers for both, as crews do: the second's own call is asked about no more."""
    crew = two_crew(2)
    call(crew, "one fire light", 0)
    assert call(crew, "both fire lights", 0) == ["confirm-change"]
    assert call(crew, "affirm", 0) == ["read-back-wanted"]
    assert call(crew, "both fire lights", 0) == ["confirm-change"], "that is no second pair of eyes"
    assert call(crew, "affirm", 0) == ["read-back-again"]
    assert crew.engine.state.records["fire-alfa.lights"].now.outcome == "unsatisfactory"  # type: ignore[union-attr]
    call(crew, "both fire lights", 1)
    assert crew.outcome("fire-alfa.lights") == "satisfactory"
    assert crew.item("fire-alfa.lights")["read_back"] == "by the other microphone"
    (finding,) = crew.result["findings"]
    assert finding["superseded"]


def test_what_the_other_sees_dark_after_that_yes_stays_a_finding() -> None:
    crew = two_crew(2)
    call(crew, "one fire light", 0)
    call(crew, "both fire lights", 0)
    call(crew, "affirm", 0)
    assert call(crew, "no fire lights", 1) == ["disagreement"]
    assert call(crew, "both fire lights", 1) == ["confirm-change"], "nothing waits any more"
    assert crew.outcome("fire-alfa.lights") == "unsatisfactory"


def test_a_yes_reads_back_for_nobody_but_who_says_it() -> None:
    """The second may have said "no fire lights": the pilot's yes is no second pair of eyes."""
    crew = two_crew(2)
    call(crew, "both fire lights", 0)
    guess = (crew.phrases()["both fire lights"],)
    crew.feed(Unclear(crew.now + 1, crew.now + 1.8, guess, 1))
    crew.now += 2
    assert call(crew, "affirm", 0) == ["read-back-again"]
    assert "fire-alfa.lights" not in crew.engine.state.records
    crew.feed(Unclear(crew.now + 1, crew.now + 1.8, guess, 1))
    crew.now += 2
    call(crew, "affirm", 1)
    assert crew.outcome("fire-alfa.lights") == "satisfactory"


def test_items_without_the_mark_and_single_pilots_need_no_read_back() -> None:
    crew = two_crew(1)
    crew.say("bell sounding")
    assert crew.outcome("fire-alfa.bell") == "satisfactory"
    alone = Crew("ZZ-HAA")
    alone.power(battery="on", avionics="off")
    alone.say("going to fire alfa", "both fire lights")
    assert alone.outcome("fire-alfa.lights") == "satisfactory"


def test_correction_takes_a_call_back_that_waits_for_its_read_back() -> None:
    crew = two_crew(1)
    crew.say("both fire lights")
    assert crew.say("correction") == ["corrected"]
    assert crew.engine.state.first_call is None
    crew.say("both fire lights")
    assert "fire-alfa.lights" not in crew.engine.state.records


def test_a_change_of_crew_drops_what_was_half_said_and_reads_back() -> None:
    crew = two_crew(1)
    crew.say("bell sounding", "both fire lights")
    prompts = crew.say("change of crew")
    assert prompts == ["crew-changed", "at", "called", "outstanding"]
    assert crew.engine.state.first_call is None
    assert crew.outcome("fire-alfa.bell") == "satisfactory"
    assert crew.outcome("fire-alfa.lights") == "not tested"


def test_bad_news_that_does_not_count_is_still_no_half_of_a_read_back() -> None:
    crew = Crew("ZZ-HAA", Began(0.0, second=True))
    crew.power(battery="on", avionics="off")
    crew.say("going to fire alfa", "both fire lights")
    crew.say("avionics off", "one fire light", "affirm")
    assert crew.say("both fire lights") == ["read-back-wanted"]
    assert crew.outcome("fire-alfa.lights") != "satisfactory"


def test_the_same_bad_news_from_the_other_is_no_half_of_a_read_back_either() -> None:
    crew = two_crew(1)
    crew.say("one fire light", "both fire lights", "affirm", "one fire light")
    crew.say("both fire lights")
    assert crew.say("affirm") == ["read-back-wanted"]
    assert crew.outcome("fire-alfa.lights") == "unsatisfactory"


def test_correction_of_a_bus_leaves_half_a_read_back_as_it_is() -> None:
    crew = two_crew(1)
    crew.say("both fire lights")
    crew.say("battery on", "affirm")
    assert crew.say("correction") == ["corrected"]
    half = crew.engine.state.first_call
    assert half is not None
    assert half.item == "fire-alfa.lights"
    assert crew.engine.state.power["battery"] is None


def test_half_a_read_back_lapses_when_the_position_is_selected_again() -> None:
    crew = two_crew(1)
    crew.say("both fire lights", "going to fire alfa")
    assert crew.say("both fire lights") == ["read-back-wanted"]
    assert crew.outcome("fire-alfa.lights") != "satisfactory"


def test_the_summary_tells_who_called_what_where_that_is_known() -> None:
    jet = Crew("ZZ-HJC", Began(0.0, second=True, channels=2))
    jet.power(battery="on", avionics="on")
    jet.say("going to gear", "three green")
    jet.now += 1.0
    jet.feed(Heard("gear.unsafe:0", "", jet.now - 0.5, jet.now, 0.9, channel=1))
    jet.feed(KeyPressed("gear.horn:good", jet.now + 0.5))
    by = {item: jet.item(item).get("by") for item in ("gear.unsafe", "gear.horn")}
    assert by == {"gear.unsafe": "second", "gear.horn": "hand"}
    assert [finding["by"] for finding in jet.findings()] == ["second"]
