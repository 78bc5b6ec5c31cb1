"""Two lamps that must go out, timed at once: what becomes of one must not touch the other.

No airframe of the fleet has two; the second is made here, on a bus of its own.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from fleet import Crew

from voicecheck.checklist.resolved import Checklist, Reading
from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Lost

FIRST, SECOND = "anti-skid.out", "autobrake.out"


def _with_autobrake(checklist: Checklist) -> Checklist:
    """The anti-skid position once more as "autobrake", which needs the battery alone."""

    def named(reading: Reading) -> Reading:
        phrases = tuple(words.replace("anti skid", "autobrake") for words in reading.phrases)
        key = reading.key.replace("anti-skid", "autobrake")
        return replace(reading, key=key, phrases=phrases)

    old = checklist.position("anti-skid")
    items = tuple(
        replace(
            item,
            id=item.id.replace("anti-skid", "autobrake"),
            position="autobrake",
            readings=tuple(map(named, item.readings)),
            darks=tuple(map(named, item.darks)),
            after=tuple(needed.replace("anti-skid", "autobrake") for needed in item.after),
            power={"battery": "on"},
        )
        for item in old.items
    )
    new = replace(
        old,
        id="autobrake",
        say="autobrake",
        power={"battery": "on"},
        items=items,
        select=("going to autobrake",),
    )
    positions = (*checklist.positions[:-1], new, checklist.positions[-1])
    return replace(checklist, positions=positions)


@pytest.fixture
def both() -> Crew:
    """Both lamps run: the anti-skid since 2 s, the autobrake since now."""
    crew = Crew("ZZ-HJC")
    crew.engine = Engine(_with_autobrake(crew.engine.checklist))
    crew.effects.clear()
    crew.feed(Began(0.0))
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "anti skid illuminated")
    crew.say("going to autobrake", "autobrake illuminated", "selector off")
    return crew


def running(crew: Crew) -> list[str]:
    return [window.item for window in crew.engine.state.windows]


def reaction(crew: Crew) -> float:
    return crew.engine.checklist.timing.reaction


@pytest.mark.parametrize("order", [("anti skid", "autobrake"), ("autobrake", "anti skid")])
def test_each_is_closed_by_its_own_call(both: Crew, order: tuple[str, str]) -> None:
    """Four seconds after its own leaving call each is in the middle of three to five."""
    middle = {"anti skid": 2.0, "autobrake": 4.0}
    left = both.now
    both.say_at(left + middle["anti skid"] + reaction(both), "anti skid out")
    assert running(both) == [SECOND]
    both.say_at(left + middle["autobrake"] + reaction(both), "autobrake out")
    assert running(both) == []
    assert both.outcome(FIRST) == "satisfactory"
    assert both.outcome(SECOND) == "satisfactory"
    assert [timing["item"] for timing in both.result["timings"]] == [FIRST, SECOND]


def test_the_call_of_the_second_leaves_the_first_running(both: Crew) -> None:
    both.say_at(both.now + 0.5, "autobrake out")
    assert running(both) == [FIRST]
    assert both.outcome(SECOND) == "unsatisfactory"
    assert both.outcome(FIRST) == "not tested"


@pytest.mark.parametrize(
    ("back", "cancelled", "left"),
    [("anti skid", FIRST, SECOND), ("autobrake", SECOND, FIRST)],
)
def test_going_back_to_one_cancels_that_one_alone(
    both: Crew, back: str, cancelled: str, left: str
) -> None:
    both.say(f"going to {back}")
    assert running(both) == [left]
    assert "went back" in both.item(cancelled)["reason"]
    assert both.item(left)["reason"] == "the test ended while it was timed"


@pytest.mark.parametrize("part", ["microphone", "session"])
def test_without_sound_or_time_neither_can_be_judged(both: Crew, part: str) -> None:
    both.feed(Lost(part, both.now + 0.1))
    assert running(both) == []
    for item in (FIRST, SECOND):
        assert both.outcome(item) == "not tested"
        assert both.item(item)["reason"] == f"the {part} was lost while it was timed"


def test_a_lost_voice_leaves_both_running(both: Crew) -> None:
    both.feed(Lost("voice", both.now + 0.1))
    assert running(both) == [FIRST, SECOND]


def test_a_bus_voids_only_what_needs_it(both: Crew) -> None:
    both.say("avionics off", "affirm")
    assert running(both) == [SECOND]
    assert both.outcome(FIRST) == "void"
    assert both.outcome(SECOND) == "not tested"


def test_a_bus_that_both_need_voids_both(both: Crew) -> None:
    both.say("battery off", "affirm")
    assert running(both) == []
    assert both.result["void"][-2:] == [FIRST, SECOND]


def test_each_is_asked_about_at_its_own_time(both: Crew) -> None:
    first, second = (window.deadline for window in both.engine.state.windows)
    assert both.wait(first - both.now) == ["window-ask"]
    assert [window.asked for window in both.engine.state.windows] == [True, False]
    assert both.wait(second - both.now) == ["window-ask"]
    assert [window.asked for window in both.engine.state.windows] == [True, True]
    deadlines = [window.deadline for window in both.engine.state.windows]
    assert deadlines == [first + 8.0, second + 8.0]
    assert both.wait(first + 8.0 - both.now) == ["finding"]
    assert running(both) == [SECOND]
    # By now the silence has lasted long enough for a reminder as well.
    assert both.wait(second + 8.0 - both.now) == ["finding", "outstanding"]
    assert both.outcome(FIRST) == both.outcome(SECOND) == "unsatisfactory"


def test_both_are_asked_about_when_both_are_due(both: Crew) -> None:
    assert both.wait(60.0)[:2] == ["window-ask", "window-ask"]
    assert both.wait(8.0) == ["finding", "finding"]


def test_an_answer_about_one_is_no_answer_about_the_other(both: Crew) -> None:
    both.wait(60.0)
    both.say("anti skid stays lit")
    assert running(both) == [SECOND]
    assert both.engine.state.windows[0].asked


def test_neither_position_is_proposed_while_its_lamp_runs(both: Crew) -> None:
    """To go back to it would spoil the timing."""
    names = [p.say for p in both.engine.checklist.positions if p.id in ("anti-skid", "autobrake")]
    both.say("going to overspeed", "clacker sounding")
    proposals = [
        effect.values["next"]
        for effect in both.effects
        if getattr(effect, "prompt", "") in ("next", "position-done")
    ]
    assert not any(name in proposal for name in names for proposal in proposals[-1:])


def test_taking_the_leaving_call_back_leaves_nothing_to_judge(both: Crew) -> None:
    both.say("correction")
    assert running(both) == []
    assert both.outcome(FIRST) == both.outcome(SECOND) == "not tested"
