"""Each kind of expectation, on the good path and on its plain failure."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fleet import FLEET, Crew, loaded

from voicecheck.callouts import Stakes
from voicecheck.checklist.resolved import Grade
from voicecheck.engine.effects import Finish, Listen, Say
from voicecheck.engine.events import Heard, KeyPressed, Lost, Passed, Restored, Unclear
from voicecheck.engine.phases import TABLE, Phase


@pytest.fixture
def jet() -> Crew:
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    return crew


@pytest.fixture
def prop() -> Crew:
    crew = Crew("ZZ-HAA")
    crew.power(battery="on", avionics="off")
    return crew


def test_the_caution_is_spoken_first_and_only_once(prop: Crew) -> None:
    prompts = [effect.prompt for effect in prop.effects if isinstance(effect, Say)]
    assert prompts[0] == "preamble"
    assert prompts.count("preamble") == 1


class TestPower:
    def test_a_bus_counts_only_after_a_yes(self) -> None:
        crew = Crew("ZZ-HAA")
        assert crew.say("battery on") == ["confirm-airframe"]
        assert crew.say("going to fire alfa")[-1] == "needs-power"
        assert "not-counted" in crew.say("both fire lights")
        assert crew.outcome("fire-alfa.lights") == "void"

    def test_a_denied_bus_is_unknown_again(self, prop: Crew) -> None:
        prop.say("avionics on", "negative", "going to fire alfa")
        assert "not-counted" in prop.say("both fire lights")

    @pytest.mark.parametrize("guess", ["power:avionics:on", "power:avionics:off"])
    @pytest.mark.parametrize("no", ["negative", "disregard", "correction"])
    def test_a_guess_at_a_bus_that_is_denied_leaves_it_unknown(
        self, prop: Crew, guess: str, no: str
    ) -> None:
        """Somebody said something like it, and then no: nobody can tell what the bus is."""
        prop.say("going to fire alfa")
        prop.feed(Unclear(prop.now, prop.now + 0.8, (guess,)))
        prop.now += 0.8
        assert "needs-power" in prop.say(no) or no == "correction"
        assert prop.engine.state.power["avionics"] is None
        assert "not-counted" in prop.say("both fire lights")

    def test_two_buses_are_affirmed_together(self) -> None:
        crew = Crew("ZZ-HAA")
        crew.say("battery on", "avionics off", "affirm", "going to fire alfa", "both fire lights")
        assert crew.outcome("fire-alfa.lights") == "satisfactory"

    def test_power_holds_from_when_the_words_were_spoken(self) -> None:
        crew = Crew("ZZ-HAA")
        crew.say("battery on")
        spoken = crew.now
        crew.now += 5
        crew.say("affirm")
        assert crew.result["power"] == [{"bus": "battery", "state": "on", "at": spoken}]

    def test_a_change_voids_results_of_this_visit_only(self, prop: Crew) -> None:
        prop.say("going to fire bravo", "both fire lights", "going to fire alfa")
        prop.say("both fire lights", "avionics on")
        assert "voided" in prop.say("affirm")
        assert prop.outcome("fire-alfa.lights") == "void"
        assert prop.outcome("fire-bravo.lights") == "satisfactory"
        assert prop.result["void"] == ["fire-alfa.lights"]

    def test_a_void_result_can_be_called_again(self, prop: Crew) -> None:
        prop.say("going to fire alfa", "both fire lights", "avionics on", "affirm")
        prop.say("avionics off", "affirm", "both fire lights")
        item = prop.item("fire-alfa.lights")
        assert item["outcome"] == "satisfactory"
        assert "void" in [past["outcome"] for past in item["history"]]

    def test_the_same_position_needs_other_power_on_another_airframe(self) -> None:
        tests = {}
        for registration in ("ZZ-HAA", "ZZ-HAB"):
            crew = Crew(registration)
            crew.power(battery="on", avionics="off")
            crew.say("going to overspeed", "clacker sounding")
            tests[registration] = crew.outcome("overspeed.clacker")
        assert tests == {"ZZ-HAA": "satisfactory", "ZZ-HAB": "void"}

    @pytest.mark.parametrize("again", [False, True])
    def test_bad_news_under_doubtful_power_leaves_nothing_good(
        self, prop: Crew, again: bool
    ) -> None:
        prop.say("going to gear", "one red")
        if again:
            prop.say("going to stall", "going to gear")
        prop.say("avionics on")
        assert "not-counted" in prop.say("no red")
        assert prop.outcome("gear.unsafe") == "void"

    def test_bad_news_out_of_order_leaves_nothing_good(self, prop: Crew) -> None:
        prop.say("going to gear", "horn sounding", "horn silenced", "going to stall")
        prop.say("going to gear", "horn continues")
        assert prop.outcome("gear.horn-silence") == "void"

    def test_mode_lamps_alone_need_avionics_on(self) -> None:
        """Lamps on the avionics bus test only with it on (common practice, no source)."""
        crew = Crew("ZZ-HJA")
        crew.power(battery="on", avionics="off")
        crew.say("going to captions", "panel complete", "both master lights", "master stays lit")
        assert "not-counted" in crew.say("six mode lights")
        crew.power(avionics="on")
        crew.say("six mode lights")
        assert crew.outcome("captions.panel") == "satisfactory"
        assert crew.outcome("captions.modes") == "satisfactory"

    def test_untested_for_want_of_power_says_so(self) -> None:
        crew = Crew("ZZ-HAA")
        crew.power(battery="on", avionics="on")
        reason = crew.item("fire-alfa.lights")["reason"]
        assert "avionics off" in reason

    def test_battery_time_is_warned_of_once(self, prop: Crew) -> None:
        assert "battery-time" not in prop.wait(500)
        assert "battery-time" in prop.wait(200)
        assert "battery-time" not in prop.wait(200)


class TestLamps:
    def test_a_full_count_is_good(self, prop: Crew) -> None:
        prop.say("going to gear", "three green", "one red")
        assert prop.outcome("gear.greens") == "satisfactory"
        assert prop.outcome("gear.unsafe") == "satisfactory"

    def test_a_short_count_asks_which_is_dark_and_names_it(self, jet: Crew) -> None:
        """Six reverser lamps, three a side (common practice, no source)."""
        jet.say("going to reversers")
        assert jet.say("left side two") == ["which-dark"]
        jet.say("left unlocked dark", "right side three")
        (finding,) = jet.findings()
        assert finding["lamp"] == "L UNLOCK"
        assert finding["what"] == "L UNLOCK dark"
        assert finding["mel"]["item"] == "78-01"
        assert finding["chapter"] == "78"
        assert jet.outcome("reverser.right") == "satisfactory"

    def test_a_short_count_without_a_name_is_still_a_finding(self, jet: Crew) -> None:
        jet.say("going to reversers", "left side two", "selector off")
        assert jet.outcome("reverser.left") == "unsatisfactory"
        assert len(jet.findings()) == 1

    def test_two_dark_lamps_are_both_named(self, prop: Crew) -> None:
        prop.say("going to gear", "one green", "left gear dark", "nose gear dark")
        (finding,) = prop.findings()
        assert finding["lamp"] == "LEFT, NOSE"

    def test_no_lamp_at_all_names_all(self, prop: Crew) -> None:
        prop.say("going to gear", "no green")
        assert prop.findings()[0]["lamp"] == "NOSE, LEFT, RIGHT"

    def test_a_lamp_that_must_be_dark(self, prop: Crew) -> None:
        prop.say("going to cabin", "door caption illuminated")
        assert prop.findings()[0]["what"] == "DOOR lit although it must be dark"


class TestAurals:
    def test_silenced_and_returns(self, prop: Crew) -> None:
        prop.say("going to gear", "horn sounding", "horn silenced", "horn returns")
        for item in ("gear.horn", "gear.horn-silence", "gear.horn-returns"):
            assert prop.outcome(item) == "satisfactory"

    def test_silence_cannot_come_before_the_sound(self, prop: Crew) -> None:
        prop.say("going to gear")
        assert prop.say("horn silenced") == ["first"]
        assert prop.outcome("gear.horn-silence") == "not tested"

    def test_a_dead_horn_leaves_its_stages_untested_with_the_reason(self, prop: Crew) -> None:
        prop.say("going to gear", "no horn")
        assert prop.outcome("gear.horn") == "unsatisfactory"
        assert "did not sound" in prop.item("gear.horn-silence")["reason"]

    @pytest.mark.parametrize(
        ("registration", "words", "outcome"),
        [
            ("ZZ-HAA", "horn silenced", "satisfactory"),
            ("ZZ-HAA", "horn continues", "unsatisfactory"),
            ("ZZ-HAC", "horn silenced", "unsatisfactory"),
            ("ZZ-HAC", "horn continues", "satisfactory"),
        ],
    )
    def test_may_it_be_silenced(self, registration: str, words: str, outcome: str) -> None:
        """A gear warning must not be silenceable by reflex: 14 CFR 25.729(e)(4), Amdt 25-136."""
        crew = Crew(registration)
        crew.power(battery="on", avionics="off")
        crew.say("going to gear", "horn sounding", words)
        assert crew.outcome("gear.horn-silence") == outcome


class TestCancel:
    @pytest.mark.parametrize(
        ("position", "words", "item", "outcome"),
        [
            ("captions", "master stays lit", "captions.reset", "satisfactory"),
            ("captions", "master resets", "captions.reset", "unsatisfactory"),
            ("reversers", "master resets", "reverser.master", "satisfactory"),
            ("reversers", "master stays lit", "reverser.master", "unsatisfactory"),
        ],
    )
    def test_resets_in_one_position_and_must_not_in_another(
        self, jet: Crew, position: str, words: str, item: str, outcome: str
    ) -> None:
        jet.say(f"going to {position}", words)
        assert jet.outcome(item) == outcome


def test_a_switch_is_exercised_in_both_throws_and_goes_back(jet: Crew) -> None:
    jet.say("going to windshield")
    assert jet.say("windshield heat off") == ["first"]
    jet.say("low heat illuminated", "high heat dark")
    assert jet.outcome("windshield.heat-low") == "satisfactory"
    assert jet.outcome("windshield.heat-high") == "unsatisfactory"
    assert jet.findings()[0]["what"] == "W/S OVHT dark with windshield heat high heat"


def test_both_throws_then_back(jet: Crew) -> None:
    jet.say("going to windshield", "high heat illuminated", "low heat illuminated")
    jet.say("windshield heat off")
    assert jet.outcome("windshield.heat-back") == "satisfactory"


class TestPeople:
    def test_correction_takes_the_last_call_back_and_keeps_it(self, prop: Crew) -> None:
        prop.say("going to gear", "two green", "correction", "three green")
        item = prop.item("gear.greens")
        assert item["outcome"] == "satisfactory"
        assert [past["withdrawn"] for past in item["history"]] == [True]
        assert prop.findings() == []
        assert prop.result["findings"] == []

    def test_a_corrected_good_call_is_no_longer_good(self, prop: Crew) -> None:
        prop.say("going to gear", "three green", "correction")
        assert prop.outcome("gear.greens") == "not tested"

    def test_a_corrected_bad_call_does_not_bring_a_good_one_back(self, prop: Crew) -> None:
        prop.say("going to gear", "three green", "two green", "correction")
        assert prop.outcome("gear.greens") == "not tested"
        assert [past["called"] for past in prop.item("gear.greens")["history"]] == [
            "three green",
            "two green",
        ]

    def test_a_finding_called_twice_stands_when_the_repeat_is_taken_back(self, prop: Crew) -> None:
        prop.say("going to gear", "two green", "only two green")
        assert prop.say("correction") == ["called", "corrected"]
        assert prop.engine.state.dark_asked == "gear.greens"
        assert prop.say("three green") == ["confirm-change"]
        prop.say("affirm")
        assert prop.outcome("gear.greens") == "satisfactory"

    def test_a_finding_that_stands_again_outlives_its_repeat_too(self, prop: Crew) -> None:
        prop.say("going to gear", "two green", "three green", "affirm", "correction")
        assert prop.engine.state.records["gear.greens"].now.called == "two green"
        prop.say("two green", "correction")
        assert prop.outcome("gear.greens") == "unsatisfactory"

    def test_a_good_call_repeated_is_taken_back_with_its_repeat(self, prop: Crew) -> None:
        prop.say("going to gear", "three green", "three green", "correction")
        assert prop.outcome("gear.greens") == "not tested"

    def test_bad_after_good_counts_at_once(self, prop: Crew) -> None:
        prop.say("going to gear", "three green", "two green")
        assert prop.outcome("gear.greens") == "unsatisfactory"

    def test_good_after_bad_needs_a_yes(self, prop: Crew) -> None:
        prop.say("going to gear", "two green")
        assert prop.say("three green") == ["confirm-change"]
        assert prop.engine.state.records["gear.greens"].now.outcome == "unsatisfactory"
        prop.say("affirm")
        assert prop.outcome("gear.greens") == "satisfactory"
        assert [finding["superseded"] for finding in prop.result["findings"]] == [True]

    def test_good_after_bad_denied_stays_bad(self, prop: Crew) -> None:
        prop.say("going to gear", "two green", "three green", "negative")
        assert prop.outcome("gear.greens") == "unsatisfactory"

    def test_a_retest_supersedes_and_never_erases(self, prop: Crew) -> None:
        prop.say("going to gear", "two green", "left gear dark", "going to stall")
        prop.say("going to gear", "three green", "affirm")
        assert prop.outcome("gear.greens") == "satisfactory"
        (finding,) = prop.result["findings"]
        assert finding["intermittent"] is True
        assert finding["lamp"] == "LEFT"

    def test_hold_and_resume_read_back_where_we_are(self, prop: Crew) -> None:
        prop.say("going to gear", "three green")
        assert prop.say("stand by") == ["holding"]
        assert "one red" not in prop.phrases()
        assert prop.say("resume checklist") == ["resuming", "called", "outstanding"]
        prop.say("one red")
        assert prop.outcome("gear.unsafe") == "satisfactory"

    def test_say_again_repeats_the_last_prompts(self, prop: Crew) -> None:
        first = prop.say("going to gear")
        assert prop.say("say again") == first
        assert prop.say("say again") == first

    def test_read_back(self, prop: Crew) -> None:
        prop.say("going to gear", "three green")
        assert prop.say("read back") == ["at", "called", "outstanding"]

    def test_disregard_drops_an_open_question(self, prop: Crew) -> None:
        prop.say("going to gear", "two green", "three green", "disregard")
        assert prop.engine.state.question is None
        assert prop.outcome("gear.greens") == "unsatisfactory"

    def test_unclear_asks_again_but_not_for_ever(self, prop: Crew) -> None:
        asked = 0
        for _ in range(6):
            prop.now += 2
            made = prop.feed(Unclear(prop.now - 1, prop.now))
            asked += sum(1 for e in made if isinstance(e, Say) and e.prompt == "say-again")
        assert asked == 3

    def test_a_guess_is_asked_about_and_counts_after_a_yes(self, prop: Crew) -> None:
        prop.say("going to gear")
        key = prop.phrases()["three green"]
        prop.now += 1
        prop.feed(Unclear(prop.now - 0.8, prop.now, (key,)))
        assert prop.engine.state.records.get("gear.greens") is None
        prop.say("affirm")
        assert prop.outcome("gear.greens") == "satisfactory"

    def test_silence_brings_two_reminders_and_no_more(self, prop: Crew) -> None:
        prop.say("going to gear")
        assert prop.wait(16) == ["outstanding"]
        assert prop.wait(16) == ["outstanding"]
        assert prop.wait(60) == []

    def test_keys_do_what_words_do(self, prop: Crew) -> None:
        prop.say("going to gear")
        prop.feed(KeyPressed(prop.phrases()["three green"], prop.now + 1))
        assert prop.outcome("gear.greens") == "satisfactory"

    def test_what_is_not_on_offer_does_nothing(self, prop: Crew) -> None:
        before = prop.engine.state
        prop.feed(Heard("gear.greens:3", "three green", 50.0, 51.0, 1.0))
        assert prop.engine.state.records == before.records


class TestOrder:
    def test_leaving_early_is_said_and_nothing_is_assumed(self, prop: Crew) -> None:
        prop.say("going to gear", "three green")
        assert "left-early" in prop.say("going to stall")
        assert prop.outcome("gear.unsafe") == "not tested"

    def test_completion_reads_out_what_is_missing(self, prop: Crew) -> None:
        prop.say("going to gear", "three green")
        assert prop.say("test complete") == ["selector-first"]
        prop.say("selector off", "panel dark")
        assert prop.say("test complete") == ["end-untested", "confirm-incomplete"]
        assert prop.engine.phase is Phase.AT_REST
        prop.say("affirm")
        assert prop.result["complete"] is False
        assert prop.outcome("stall.pointer") == "not tested"

    def test_the_rest_position_must_be_seen_again_after_another_position(self, prop: Crew) -> None:
        prop.say("selector off", "panel dark", "going to gear", "selector off")
        assert prop.outcome("off.panel") == "not tested"

    def test_a_light_left_on_at_rest_stays_a_finding(self, prop: Crew) -> None:
        prop.say("selector off", "light still showing", "going to gear", "selector off")
        prop.say("panel dark", "affirm")
        assert [finding["intermittent"] for finding in prop.result["findings"]] == [True]

    def test_not_fitted_is_an_outcome_with_its_reason(self, prop: Crew) -> None:
        assert prop.say("going to anti skid") == ["position-not-fitted"]
        item = prop.item("anti-skid.caption")
        assert (item["outcome"], item["reason"]) == (
            "not fitted",
            "anti-skid never fitted to this airframe",
        )

    def test_abandon_needs_a_reason(self, prop: Crew) -> None:
        prop.say("abandon the test", "negative")
        assert prop.engine.phase is not Phase.FINISHED
        assert prop.say("abandon the test") == ["ask-reason"]
        prop.say("maintenance called")
        assert prop.result["reason"] == "abandoned by the crew: maintenance called"
        assert prop.result["complete"] is False


class TestLosses:
    def test_a_lost_microphone_holds_and_its_return_resumes(self, prop: Crew) -> None:
        prop.say("going to gear")
        prop.feed(Lost("microphone", prop.now))
        assert prop.engine.phase is Phase.HELD
        prop.feed(Restored("microphone", prop.now + 3))
        assert prop.engine.phase is Phase.TESTING

    def test_a_lost_voice_does_not_hold(self, prop: Crew) -> None:
        prop.say("going to gear")
        prop.feed(Lost("voice", prop.now))
        assert prop.engine.phase is Phase.TESTING

    def test_a_running_window_cannot_be_judged_any_more(self, jet: Crew) -> None:
        jet.say("going to anti skid", "anti skid illuminated", "selector off")
        jet.feed(Lost("microphone", jet.now + 1))
        jet.feed(Restored("microphone", jet.now + 3))
        assert jet.outcome("anti-skid.out") == "not tested"


@pytest.mark.parametrize("registration", FLEET)
def test_every_good_reading_has_the_highest_stakes(registration: str) -> None:
    crew = Crew(registration)
    for position in loaded(registration).checklist.positions:
        crew.say(position.select[0])
        for item in position.items:
            for reading in item.readings:
                offer = crew.engine.offers()[reading.key]
                if reading.grade is Grade.GOOD and item.window is None:
                    assert offer.callout.stakes is Stakes.CLOSES_GOOD
                else:
                    assert offer.callout.stakes is not Stakes.ASKS


@pytest.mark.parametrize("registration", FLEET)
def test_all_good_completes_with_nothing_left(registration: str) -> None:
    """Every airframe of the fleet can be run to completion."""
    crew = Crew(registration)
    checklist = loaded(registration).checklist
    crew.power(battery="on")
    for position in checklist.positions:
        crew.say(position.select[0])
        for item in position.items:
            if item.window is not None:
                continue
            wanted = {**position.power, **item.power}
            state = crew.engine.state.power.get("avionics")
            if "avionics" in wanted and state != wanted["avionics"]:
                crew.power(avionics=wanted["avionics"])
            crew.say(item.readings[0].phrases[0])
        timed = [item for item in position.items if item.window is not None]
        if timed:
            crew.say("selector off")
            window = timed[0].window
            assert window is not None
            middle = (window.lower + window.upper) / 2
            crew.say_at(crew.now + middle + checklist.timing.reaction, "anti skid out")
    crew.say("selector off", "panel dark", "test complete")
    result = crew.result
    assert result["complete"] is True
    assert {item["outcome"] for item in result["items"]} <= {"satisfactory", "not fitted"}


def test_nothing_happens_after_the_end(prop: Crew) -> None:
    prop.say("abandon the test", "other reason")
    assert prop.feed(Passed(1e6)) == []
    assert prop.engine.offers() == {}


def test_the_last_effects_end_the_listening(prop: Crew) -> None:
    prop.say("abandon the test", "other reason")
    listens = [effect for effect in prop.effects if isinstance(effect, Listen)]
    assert listens[-1].callouts == ()
    assert sum(isinstance(effect, Finish) for effect in prop.effects) == 1


def test_the_phase_table_has_a_way_out_of_every_phase() -> None:
    for phase in Phase:
        if phase is not Phase.FINISHED:
            assert any(phase in sources for _, sources, _ in TABLE), phase
    assert not any(Phase.FINISHED in sources for _, sources, _ in TABLE)


def test_on_and_off_in_one_breath_are_no_guess(prop: Crew) -> None:
    made = prop.feed(
        Unclear(prop.now + 0.2, prop.now + 1, ("power:avionics:off", "power:avionics:on"))
    )
    assert prop.prompts(made) == ["say-again"]
    made = prop.feed(
        Unclear(prop.now + 2, prop.now + 3, ("power:avionics:off", "power:battery:on"))
    )
    assert prop.prompts(made) == ["confirm"]


def test_a_lamp_named_dark_in_doubtful_power_leaves_no_earlier_good(prop: Crew) -> None:
    prop.say("going to gear", "three green", "avionics on", "nose gear dark")
    assert prop.outcome("gear.greens") == "void"


def test_naming_one_lamp_dark_leaves_the_question_about_another_group_open(jet: Crew) -> None:
    jet.say("going to reversers", "left side two")
    assert jet.engine.state.dark_asked == "reverser.left"
    jet.say("right unlocked dark")
    assert jet.engine.state.dark_asked == "reverser.left"
    jet.say("correction")
    assert jet.engine.state.dark_asked == "reverser.left"
    jet.say("left unlocked dark")
    assert jet.engine.state.dark_asked is None


def test_say_again_before_anything_was_said_says_so(jet: Crew) -> None:
    fresh = Crew("ZZ-HJC")
    fresh.engine.state = replace(fresh.engine.state, last_said=())
    assert fresh.say("say again") == ["nothing-said"]


def test_correction_drops_good_news_that_waits_for_a_yes(prop: Crew) -> None:
    prop.say("going to gear", "two green", "three green")
    assert prop.say("correction") == ["corrected"]
    assert prop.engine.state.question is None
    assert "command:affirm" not in prop.engine.offers()
    assert prop.outcome("gear.greens") == "unsatisfactory"


def test_the_question_which_lamp_is_dark_lapses_when_the_selector_leaves(jet: Crew) -> None:
    jet.say("going to reversers", "left side two", "going to gear")
    assert jet.engine.state.dark_asked is None
    jet.say("going to reversers", "left side two", "correction")
    assert jet.engine.state.dark_asked is None
    assert jet.outcome("reverser.left") == "unsatisfactory"


def test_a_position_selected_again_spoils_what_ran_from_it_and_says_why() -> None:
    jet = Crew("ZZ-HJC")
    jet.power(battery="on", avionics="on")
    jet.say("going to anti skid", "anti skid illuminated", "going to gear", "going to anti skid")
    result = jet.engine.state.records["anti-skid.out"].now
    assert result is not None
    assert result.reason == "the selector went back before the lamp was called"


def test_a_reading_called_twice_is_told_as_one(prop: Crew) -> None:
    prop.say("going to gear", "two green", "one green")
    history = prop.item("gear.greens")["history"]
    assert [past["reason"] for past in history] == ["called again"]


def test_nothing_is_proposed_while_something_is_asked(jet: Crew) -> None:
    jet.say("going to reversers", "left side three")
    made = jet.say("right side two")
    assert "which-dark" in made
    assert not {"position-done", "next"} & set(made)


class TestBatteryTime:
    """Ten minutes on the battery alone in ZZ-HJC (an invented value of its checklist)."""

    def minutes(self, jet: Crew, minutes: float) -> list[str]:
        return jet.wait(minutes * 60)

    def test_a_second_call_of_on_does_not_start_it_anew(self) -> None:
        jet = Crew("ZZ-HJC")
        jet.power(battery="on")
        self.minutes(jet, 6)
        jet.power(battery="on")
        assert "battery-time" in self.minutes(jet, 5)
        assert "battery-time" not in self.minutes(jet, 20), "it is said once"

    def test_off_ends_it_and_the_next_on_starts_it_and_its_caution_anew(self) -> None:
        jet = Crew("ZZ-HJC")
        jet.power(battery="on")
        assert "battery-time" in self.minutes(jet, 11)
        jet.power(battery="off")
        assert jet.engine.state.battery_from is None
        assert "battery-time" not in self.minutes(jet, 30)
        jet.power(battery="on")
        assert "battery-time" not in self.minutes(jet, 9)
        assert "battery-time" in self.minutes(jet, 2)


class TestReasons:
    """Whatever undid a result, the summary tells why nothing stands."""

    @pytest.mark.parametrize(
        ("undone", "reason"),
        [
            (("correction",), "corrected by the crew"),
            (("disregard",), "disregarded by the crew"),
            (("no red", "correction"), "corrected by the crew"),
        ],
    )
    def test_the_last_reason_is_told(
        self, prop: Crew, undone: tuple[str, ...], reason: str
    ) -> None:
        prop.power(battery="on")
        prop.say("going to gear", "one red", *undone)
        assert prop.item("gear.unsafe")["reason"] == reason

    def test_a_finding_at_rest_stays_one_after_the_selector_has_left(self, prop: Crew) -> None:
        prop.power(battery="on", avionics="off")
        prop.say("selector off", "light still showing", "going to gear")
        assert prop.item("off.panel")["reason"] == "the selector left off again"
        assert [finding["item"] for finding in prop.findings()] == ["off.panel"]

    def test_a_good_call_that_a_bad_one_doubted_says_so(self, prop: Crew) -> None:
        prop.power(battery="on")
        prop.say("going to gear", "one red", "no red", "correction")
        good, bad = prop.item("gear.unsafe")["history"]
        assert good["reason"] == "'no red' was called since, and taken back"
        assert bad["reason"] == "corrected by the crew"
