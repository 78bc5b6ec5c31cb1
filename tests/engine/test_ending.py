"""The end reads out what was found and what is not tested, and wants a yes to that list."""

from __future__ import annotations

import pytest
from fleet import Crew

from voicecheck.engine.effects import Say
from voicecheck.engine.events import Heard, Lost, Unclear
from voicecheck.engine.phases import Phase


def walked(*bad: str, leave_out: str | None = None) -> Crew:
    """Everything called good at its position, but for these readings and this position."""
    crew = Crew("ZZ-HAA")
    crew.power(battery="on", avionics="off")
    checklist = crew.engine.checklist
    for position in checklist.positions:
        if position.id == leave_out:
            continue
        crew.say(position.select[0])
        for item in position.items:
            for bus, state in item.power.items():
                if crew.engine.state.power.get(bus) != state:
                    crew.power(**{bus: state})
            keys = [reading.key for reading in item.readings]
            key = next((key for key in keys if key in bad), keys[0])
            crew.now += 1.0
            crew.feed(Heard(key, "", crew.now - 0.8, crew.now, 0.99))
    return crew


def said(crew: Crew, prompt: str) -> str:
    """What was read out last."""
    found = [e for e in crew.effects if isinstance(e, Say) and e.prompt == prompt]
    return " / ".join(found[-1].values.values())


def test_with_all_good_it_ends_at_once() -> None:
    crew = walked()
    assert crew.say("test complete") == ["finished-complete"]
    assert crew.result["complete"] is True


def test_findings_are_read_out_and_only_a_yes_completes() -> None:
    crew = walked("gear.unsafe:0", "stall.pointer:bad-0")
    assert crew.say("test complete") == ["end-found", "confirm-findings"]
    assert said(crew, "end-found").startswith("gear ")
    assert len(said(crew, "end-found").split(", ")) == 2
    assert crew.engine.phase is Phase.AT_REST
    assert crew.say("affirm") == ["finished-complete"]
    assert crew.result["complete"] is True
    assert len(crew.findings()) == 2


@pytest.mark.parametrize("no", ["negative", "disregard", "correction"])
def test_a_no_goes_back_to_the_test(no: str) -> None:
    crew = walked("gear.unsafe:0")
    crew.say("test complete", no)
    assert crew.engine.phase is Phase.AT_REST
    assert crew.say("going to gear")[:1] == ["ack"]


def test_a_call_in_place_of_a_yes_is_no_yes() -> None:
    crew = walked("gear.unsafe:0")
    crew.say("test complete", "panel dark")
    assert crew.engine.phase is Phase.AT_REST
    assert "affirm" not in crew.phrases()


def test_findings_and_what_is_not_tested_are_one_list() -> None:
    crew = walked("gear.unsafe:0", leave_out="stall")
    assert crew.say("test complete") == ["end-found", "end-untested", "confirm-incomplete"]
    assert said(crew, "end-untested") == "stall"
    crew.say("affirm")
    assert crew.result["complete"] is False


def test_what_could_not_be_tested_is_named_too() -> None:
    """The horn did not sound: that it can be silenced was never seen. The test is complete."""
    crew = walked("gear.horn:bad")
    assert crew.say("test complete") == ["end-found", "end-untested", "confirm-findings"]
    assert said(crew, "end-untested") == "gear horn silenced, gear horn returns"
    crew.say("affirm")
    assert crew.result["complete"] is True


def test_what_came_since_is_read_out_before_the_yes_counts() -> None:
    """Bad news half heard while the list is open makes an item open that the list had not."""
    crew = walked("gear.unsafe:0")
    crew.say("test complete")
    crew.now += 1.0
    crew.feed(Unclear(crew.now - 0.8, crew.now, ("off.panel:bad-0",)))
    assert crew.say("affirm") == ["end-found", "end-untested", "confirm-incomplete"]
    assert crew.engine.phase is Phase.AT_REST
    crew.say("affirm")
    assert crew.result["complete"] is False


def test_a_yes_does_not_complete_while_the_selector_may_have_left_off() -> None:
    crew = walked("gear.unsafe:0")
    crew.say("test complete")
    crew.now += 1.0
    crew.feed(Unclear(crew.now - 0.8, crew.now, ("select:gear",)))
    assert crew.say("affirm") == ["confirm-position"]
    assert crew.engine.phase is Phase.AT_REST


def test_a_yes_given_while_we_hold_ends_as_it_would_at_rest() -> None:
    crew = walked("gear.unsafe:0")
    crew.say("test complete")
    crew.feed(Lost("microphone", crew.now))
    assert crew.say("affirm") == ["finished-complete"]
