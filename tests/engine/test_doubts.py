"""Nothing good stands on a doubt: a wrong read-back, half a bus, a yes to nothing, a touch."""

from __future__ import annotations

import pytest
from fleet import Crew

from voicecheck.engine.events import (
    Began,
    Ended,
    Heard,
    KeyPressed,
    Lost,
    Part,
    Prompted,
    Restored,
    Unclear,
)

LIGHTS = "fire-alfa.lights"


def at_loop_a(began: Began | None = None) -> Crew:
    crew = Crew("ZZ-HAB", began)
    crew.power(battery="on", avionics="off")
    crew.say("going to fire alfa")
    return crew


def outcome(crew: Crew, item: str) -> str | None:
    now = crew.engine.state.records[item].now if item in crew.engine.state.records else None
    return None if now is None else str(now.outcome)


def unclear(crew: Crew, *guess: str, channel: int = 0) -> list[str]:
    crew.now += 1.0
    return crew.prompts(crew.feed(Unclear(crew.now - 0.8, crew.now, guess, channel)))


def hear(crew: Crew, key: str, gap: float, channel: int = 0) -> list[str]:
    """A callout that begins `gap` seconds after the last, 0.4 s long."""
    crew.now += gap + 0.4
    made = crew.feed(Heard(key, "", crew.now - 0.4, crew.now, 0.9, channel))
    return crew.prompts(made)


class TestNegative:
    """The trade answers a wrong read-back with "negative, I say again"."""

    def test_it_takes_the_last_call_back_without_a_question(self) -> None:
        crew = at_loop_a()
        crew.say("both fire lights")
        assert crew.say("negative") == ["corrected"]
        assert outcome(crew, LIGHTS) is None
        crew.say("one fire light")
        assert crew.outcome(LIGHTS) == "unsatisfactory"

    def test_of_the_second_it_beats_the_yes_of_the_first(self) -> None:
        crew = at_loop_a(Began(0.0, second=False, channels=2))
        unclear(crew, f"{LIGHTS}:2")
        crew.say("affirm")
        assert outcome(crew, LIGHTS) == "satisfactory"
        hear(crew, "command:negative", 0.1, channel=1)
        assert outcome(crew, LIGHTS) is None

    def test_it_may_be_said_while_held(self) -> None:
        crew = at_loop_a()
        crew.say("stand by", "negative", "resume checklist")
        assert crew.engine.state.position is None, "the call of the position was the last"


def test_negative_takes_all_back_that_a_yes_had_settled() -> None:
    crew = Crew("ZZ-HAB")
    crew.say("battery on", "avionics off", "affirm")
    assert len([s for s in crew.engine.state.power.values() if s]) == 2
    crew.say("negative")
    assert not any(crew.engine.state.power.values())


class TestBusHalfHeard:
    """On and off differ by one sound: whoever half heard one knows nothing."""

    def test_it_is_unknown_while_it_is_asked_about(self) -> None:
        crew = at_loop_a()
        assert unclear(crew, "power:avionics:on") == ["confirm"]
        assert "not-counted" in crew.say("both fire lights")
        assert crew.outcome(LIGHTS) == "void"

    def test_it_is_unknown_where_something_else_is_asked(self) -> None:
        crew = at_loop_a()
        unclear(crew, "fire-alfa.bell:good")
        unclear(crew, "power:avionics:on")
        crew.say("affirm", "both fire lights")
        assert crew.outcome(LIGHTS) == "void"

    def test_it_is_unknown_when_we_ask_no_more(self) -> None:
        crew = at_loop_a()
        for _ in range(3):
            unclear(crew)
        assert unclear(crew, "power:avionics:on") == []
        assert "not-counted" in crew.say("both fire lights")

    def test_it_is_unknown_to_the_next_crew(self) -> None:
        crew = at_loop_a()
        unclear(crew, "power:avionics:on")
        crew.say("change of crew", "both fire lights")
        assert crew.outcome(LIGHTS) == "void"

    def test_a_no_leaves_it_unknown_and_says_what_is_needed(self) -> None:
        crew = at_loop_a()
        unclear(crew, "power:avionics:on")
        assert "needs-power" in crew.say("negative")


def test_a_bus_half_heard_is_unknown_until_it_is_answered() -> None:
    crew = at_loop_a(Began(0.0, second=False, channels=2))
    began = crew.now + 0.2
    crew.say("both fire lights")
    made = crew.feed(Unclear(began - 0.1, crew.now, ("power:avionics:on",), 1))
    assert "voided" in crew.prompts(made), "called while the bus was"
    assert crew.outcome(LIGHTS) == "void"


def test_what_a_bus_voids_does_not_depend_on_when_the_yes_comes() -> None:
    for order in (("affirm", "going to stall"), ("going to stall", "affirm")):
        crew = Crew("ZZ-HAB")
        crew.power(battery="on", avionics="off")
        crew.say("going to gear", "three green", "avionics on", *order)
        assert crew.outcome("gear.greens") == "void", order


class TestYes:
    """It answers what was asked, once that has sounded, and not for ever."""

    def test_begun_before_the_question_could_be_heard_it_is_none(self) -> None:
        crew = at_loop_a()
        unclear(crew, f"{LIGHTS}:2")
        assert hear(crew, "command:affirm", 0.1) == ["confirm"]
        assert outcome(crew, LIGHTS) is None
        hear(crew, "command:affirm", 0.6)
        assert outcome(crew, LIGHTS) == "satisfactory"

    def test_two_things_read_back_take_longer(self) -> None:
        crew = Crew("ZZ-HAB")
        crew.say("battery on", "avionics off")
        assert hear(crew, "command:affirm", 0.9) == ["confirm-airframe"]
        assert not any(crew.engine.state.power.values())
        hear(crew, "command:affirm", 1.1)
        assert all(crew.engine.state.power.values())

    def test_after_twenty_seconds_it_is_asked_again(self) -> None:
        crew = at_loop_a()
        unclear(crew, f"{LIGHTS}:2")
        assert hear(crew, "command:affirm", 600.0) == ["confirm"]
        assert outcome(crew, LIGHTS) is None

    def test_it_is_none_while_another_prompt_still_sounded(self) -> None:
        crew = at_loop_a()
        unclear(crew, f"{LIGHTS}:2")
        crew.feed(Prompted(crew.now - 1.0, crew.now + 3.0))
        assert hear(crew, "command:affirm", 2.0) == ["confirm"]
        assert outcome(crew, LIGHTS) is None

    def test_it_does_not_end_the_test_unasked(self) -> None:
        crew = at_loop_a()
        crew.say("selector off", "test complete")
        assert hear(crew, "command:affirm", 0.1) == ["confirm-incomplete"]
        assert crew.engine.phase == "at-rest"


class TestTwoCrew:
    """One person and a touch are not two people, and bad news ends half a read-back."""

    @pytest.mark.parametrize("channels", [1, 2])
    def test_a_touch_is_no_second_voice(self, channels: int) -> None:
        crew = at_loop_a(Began(0.0, second=True, channels=channels))
        hear(crew, f"{LIGHTS}:2", 1.0, channel=channels - 1)
        crew.now += 1.0
        made = crew.feed(KeyPressed(f"{LIGHTS}:2", crew.now, "touch"))
        assert crew.prompts(made) == ["read-back-again"]
        assert outcome(crew, LIGHTS) is None
        hear(crew, f"{LIGHTS}:2", 1.0, channel=0)
        assert outcome(crew, LIGHTS) == "satisfactory", "the voice before it still waited"

    @pytest.mark.parametrize("channels", [1, 2])
    def test_half_heard_bad_news_ends_half_a_read_back(self, channels: int) -> None:
        crew = at_loop_a(Began(0.0, second=True, channels=channels))
        hear(crew, f"{LIGHTS}:2", 1.0, channel=channels - 1)
        unclear(crew, f"{LIGHTS}:0")
        hear(crew, "fire-alfa.bell:good", 1.0)
        hear(crew, f"{LIGHTS}:2", 1.0)
        assert outcome(crew, LIGHTS) is None


class TestTimedAgain:
    """A lamp once timed good, and then left again without an answer."""

    @pytest.fixture
    def crew(self) -> Crew:
        crew = Crew("ZZ-HJC")
        crew.power(battery="on", avionics="on")
        crew.say("going to anti skid", "anti skid illuminated", "going to overspeed")
        crew.say_at(crew.now + 4.3, "anti skid out")
        assert outcome(crew, "anti-skid.out") == "satisfactory"
        crew.say("going to anti skid", "anti skid illuminated", "going to overspeed")
        return crew

    def test_ended_it_is_no_pass(self, crew: Crew) -> None:
        crew.feed(Ended(crew.now, "stopped"))
        assert crew.outcome("anti-skid.out") == "not tested"

    def test_abandoned_it_is_no_pass(self, crew: Crew) -> None:
        crew.say("abandon the test", "no time left")
        assert crew.outcome("anti-skid.out") == "not tested"
        assert crew.item("anti-skid.out")["reason"] == "the test ended while it was timed"

    def test_broken_off_it_is_no_pass(self, crew: Crew) -> None:
        crew.feed(Lost(Part.SESSION, crew.now))
        crew.feed(Restored(Part.SESSION, crew.now + 60))
        assert crew.outcome("anti-skid.out") == "not tested"

    def test_without_power_it_is_no_pass(self, crew: Crew) -> None:
        crew.say("battery off")
        assert crew.outcome("anti-skid.out") == "not tested"
