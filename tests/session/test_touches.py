"""Callouts entered by hand: recorded as such, dated when they were made, refused when stale."""

from __future__ import annotations

from pathlib import Path

import pytest
from cockpit import Cockpit

from voicecheck.journal.reader import read
from voicecheck.logbook.rows import Who, rows
from voicecheck.session.codec import event_from_json
from voicecheck.session.display import Quiet
from voicecheck.session.replay import replay
from voicecheck.session.touches import MOST, Marks, Press, Touches


class Seen(Quiet):
    """The marks of the last picture, and what became of presses."""

    def __init__(self) -> None:
        self.marks = Marks(0, 0)
        self.refused: list[str | None] = []

    def state(self, view: object) -> None:
        assert isinstance(view, dict)
        self.marks = Marks(view["change"], view["ground"])

    def pressed(self, at: float, words: str, by: str, refused: str | None) -> None:
        self.refused.append(refused)


@pytest.fixture
def seen() -> Seen:
    return Seen()


@pytest.fixture
def cockpit(tmp_path: Path, seen: Seen) -> Cockpit:
    return Cockpit(tmp_path, screen=seen)


def press(cockpit: Cockpit, callout: str, marks: Marks, by: str = "touch") -> None:
    cockpit.conductor.press(Press(callout, by, marks, cockpit.conductor.now))


def test_a_touch_is_journalled_as_touched_and_replays(cockpit: Cockpit, seen: Seen) -> None:
    for callout in ("power:battery:on", "command:affirm", "power:avionics:on", "command:affirm"):
        press(cockpit, callout, seen.marks)
    press(cockpit, "select:gear", seen.marks, by="key")
    press(cockpit, "gear.greens:3", seen.marks)
    summary = cockpit.close()
    assert seen.refused == [None] * 6
    entered = [line["event"] for line in cockpit.lines() if line.get("event", {}).get("callout")]
    assert [event["type"] for event in entered] == ["keypressed"] * 6
    assert [event["by"] for event in entered] == ["touch"] * 4 + ["key", "touch"]
    by_id = {item["id"]: item["outcome"] for item in summary["items"]}
    assert by_id["gear.greens"] == "satisfactory"
    assert replay(cockpit.folder).summary is not None
    who = [row.who for row in rows(read(cockpit.folder / "journal.jsonl"))]
    assert who.count(Who.TOUCH) == 5
    assert who.count(Who.KEY) == 1
    assert Who.PILOT not in who


def test_a_yes_for_the_question_before_does_not_answer_this_one(
    cockpit: Cockpit, seen: Seen
) -> None:
    cockpit.say("battery on")
    asked = seen.marks
    cockpit.say("battery off")
    press(cockpit, "command:affirm", asked)
    assert seen.refused[-1] is not None
    assert cockpit.engine.state.power["battery"] is None
    press(cockpit, "command:affirm", seen.marks)
    assert cockpit.engine.state.power["battery"] == "off"
    cockpit.close()
    notes = [line["text"] for line in cockpit.lines() if line["kind"] == "remark"]
    assert len(notes) == 1
    assert "affirm" in notes[0]
    assert "touch" in notes[0]


def test_a_callout_of_a_position_that_was_left_is_refused(cockpit: Cockpit, seen: Seen) -> None:
    cockpit.say("battery on")
    cockpit.say("affirm")
    cockpit.say("going to gear")
    there = seen.marks
    cockpit.say("going to captions")
    cockpit.say("going to gear")
    press(cockpit, "gear.greens:3", there)
    assert seen.refused == ["the picture had changed; enter it again"]
    press(cockpit, "stall.pointer:good", seen.marks)
    assert seen.refused[-1] == "cannot be called now"
    cockpit.close()


def test_a_touch_stands_beside_what_is_said_meanwhile(cockpit: Cockpit, seen: Seen) -> None:
    for words in ("battery on", "affirm", "avionics on", "affirm", "going to gear"):
        cockpit.say(words)
    looked = seen.marks
    cockpit.say("three green")
    press(cockpit, "gear.unsafe:1", looked)
    assert seen.refused == [None]
    cockpit.close()


def test_a_bouncing_finger_is_not_the_other_crew_members_read_back(
    tmp_path: Path, seen: Seen
) -> None:
    """Tarn 40's fire lights need the second crew member's call: one double touch is not two."""
    cockpit = Cockpit(tmp_path, screen=seen, registration="ZZ-HAA", second=True)
    for words in ("battery on", "affirm", "avionics off", "affirm", "going to fire alfa"):
        cockpit.say(words)
    looked = seen.marks
    press(cockpit, "fire-alfa.lights:2", looked)
    press(cockpit, "fire-alfa.lights:2", looked)
    assert seen.refused == [None, "the picture had changed; enter it again"]
    assert "fire-alfa.lights" not in cockpit.engine.state.records
    cockpit.close()


def test_presses_are_dated_when_made_and_wait_for_the_sound_to_get_there() -> None:
    touches = Touches()
    assert not touches.press("a", "touch", Marks(0, 0)), "no session yet"
    now = 5.0
    touches.clock = lambda: now
    assert touches.press("a", "touch", Marks(0, 0))
    now = 5.4
    assert touches.press("b", "touch", Marks(0, 0))
    assert touches.due(4.98) == []
    assert [(p.callout, p.at) for p in touches.due(5.02)] == [("a", 5.0)]
    assert [(p.callout, p.at) for p in touches.due(6.0)] == [("b", 5.4)]
    for _ in range(MOST):
        assert touches.press("c", "key", Marks(0, 0))
    assert not touches.press("c", "key", Marks(0, 0)), "bounded"
    assert len(touches.close()) == MOST
    assert not touches.press("c", "key", Marks(0, 0))


def test_journals_from_before_touches_still_read() -> None:
    old = event_from_json({"type": "keypressed", "callout": "command:affirm", "at": 3.0})
    assert getattr(old, "by", None) == "key"
