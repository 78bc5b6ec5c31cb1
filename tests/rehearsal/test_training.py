"""A student on a simulated aircraft: a recorded crew answers, and is marked."""

from __future__ import annotations

import json
import random
from pathlib import Path

import numpy as np
import pytest
from fleet import loaded

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.source import RATE
from voicecheck.cli import main
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.marks import Mark, Marks, keep_marks, marks_of
from voicecheck.rehearsal.trainer import HAND_AFTER, Showing, Trainer, as_line
from voicecheck.session.display import Quiet
from voicecheck.shipped import recordings_dir
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import faults_from
from voicecheck.world.horns import LEVEL, Horns, sound_named
from voicecheck.world.panel import Panel, PanelLamp

FAULTS = "lamp-dark:L UNLOCK,wrong-cancel:captions.reset,silent:gear.horn"


def test_a_recorded_crew_is_marked_against_another_aircraft(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The recording calls three findings; this aircraft has two of them, and a silent horn."""
    progress = tmp_path / "progress.jsonl"
    arguments = [
        *("rehearse", "skerry-j2", "--airframe", "ZZ-HJC", "--as", "pilot", "--json"),
        *("--from", str(recordings_dir() / "three-findings.wav"), "--faults", FAULTS),
        *("--student", "Tomas Reiter", "--progress", str(progress), "--log", str(tmp_path)),
    ]
    monkeypatch.setattr("sys.argv", ["voicecheck", *arguments])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    out, shown = capsys.readouterr()
    marks = json.loads(out)["marks"]
    assert marks["missed"] == ["gear.horn", "gear.horn-returns"]
    assert marks["false_alarms"] == ["anti-skid.out"]
    assert marks["left_out"] == []
    assert marks["right"] == marks["items"] - 3
    assert 0 < marks["seconds"] < 10
    assert "Advisory only" in shown
    assert "[GEAR UNSAFE red]" in shown
    assert "(you press silence: horn)" in shown
    (kept,) = progress.read_text("utf-8").splitlines()
    assert json.loads(kept)["student"] == "Tomas Reiter"


class Told(Quiet):
    """Keeps the lines about the aircraft."""

    def __init__(self) -> None:
        self.lines: list[tuple[float, str]] = []

    def __call__(self, at: float, text: str) -> None:
        self.lines.append((at, text))


@pytest.fixture
def told() -> Told:
    return Told()


@pytest.fixture
def trainer(told: Told) -> Trainer:
    aircraft = Aircraft(loaded("ZZ-HJC").checklist)
    trainer = Trainer(aircraft, told, Showing(aircraft, told))
    for bus in ("battery", "avionics"):
        trainer.noted(0.0, "power", {"bus": bus, "state": "on"})
    return trainer


def call(trainer: Trainer, at: float, item: str, outcome: str = "satisfactory") -> None:
    facts = {"item": item, "outcome": outcome, "called": "words", "start": at - 0.5, "end": at}
    trainer.noted(at, "result" if outcome == "satisfactory" else "finding", facts)


def test_a_hand_silences_only_what_was_called_before(trainer: Trainer, told: Told) -> None:
    trainer.noted(10.0, "position", {"position": "fire", "at": 9.5})
    trainer.tick(20.0)
    assert told.lines[-1][1] == "[FIRE L red]  [FIRE R red]  (bell sounds)"
    call(trainer, 21.0, "fire.lights")
    call(trainer, 22.0, "fire.bell")
    trainer.tick(22.0 + HAND_AFTER)
    trainer.tick(23.5)
    assert [text for _, text in told.lines[-2:]] == [
        "(you press silence: bell)",
        "[FIRE L red]  [FIRE R red]",
    ]
    call(trainer, 25.0, "fire.bell-silence")
    assert [mark.right for mark in trainer.marks] == [True, True, True]
    assert trainer.marks[-1].seconds == pytest.approx(25.0 - 0.5 - 23.0, abs=0.01)


def test_false_alarms_and_misses_are_told_apart(told: Told) -> None:
    chance = random.Random(0)

    checklist = loaded("ZZ-HJC").checklist
    faults = faults_from("lamp-dark:FIRE L", checklist, chance)
    aircraft = Aircraft(checklist, faults)
    trainer = Trainer(aircraft, told, Showing(aircraft, told))
    for bus in ("battery", "avionics"):
        trainer.noted(0.0, "power", {"bus": bus, "state": "on"})
    trainer.noted(1.0, "position", {"position": "fire", "at": 1.0})
    call(trainer, 3.0, "fire.lights")
    call(trainer, 4.0, "fire.bell", "unsatisfactory")
    missed, alarm = trainer.marks
    assert (missed.right, missed.faulty, missed.was) == (False, True, "one fire light")
    assert (alarm.right, alarm.faulty) == (False, False)


def test_a_timed_lamp_is_marked_from_when_it_went_out(trainer: Trainer, told: Told) -> None:
    trainer.noted(10.0, "position", {"position": "anti-skid", "at": 9.6})
    call(trainer, 12.0, "anti-skid.caption")
    trainer.noted(14.0, "position", {"position": "overspeed", "at": 13.5})
    at = 14.0
    while "ANTI-SKID" in told.lines[-1][1]:
        at += 0.1
        trainer.tick(at)
    assert 13.5 + 1.5 <= at <= 13.5 + 5.8
    call(trainer, at + 1.0, "anti-skid.out")
    assert trainer.marks[-1].right
    assert trainer.marks[-1].seconds == pytest.approx(0.5, abs=0.2)


def test_a_panel_is_told_in_words() -> None:
    lamps = (PanelLamp("FIRE L", "red", 1.0), PanelLamp("DOOR", None, 0.2))
    panel = Panel(0.0, "fire", {}, lamps, ("bell",), ("shaker",), {"x": "needle low"})
    assert as_line(panel) == "[FIRE L red]  (bell sounds)  (shaker felt)  needle low"
    assert as_line(Panel(0.0, "off", {}, ())) == "everything dark and silent"


def mark(item: str, right: bool, faulty: bool = False, seconds: float | None = 1.0) -> Mark:
    return Mark(item, "called", "was", right, faulty, seconds)


SUMMARY = {
    "items": [
        {"id": "a", "outcome": "satisfactory"},
        {"id": "b", "outcome": "unsatisfactory"},
        {"id": "c", "outcome": "not tested"},
        {"id": "d", "outcome": "not fitted"},
    ]
}


def some_marks(student: str = "Ada") -> Marks:
    calls = [mark("a", False), mark("a", True, seconds=2.0), mark("b", False, True, 3.0)]
    return marks_of(student, "2026-11-25T06:15:00Z", "ZZ-HJC", ["x"], calls, SUMMARY)


def test_the_last_call_of_an_item_is_what_counts() -> None:
    marks = some_marks()
    assert (marks.items, marks.right, marks.score) == (3, 1, pytest.approx(1 / 3))
    assert (marks.missed, marks.false_alarms, marks.left_out) == (("b",), (), ("c",))
    assert marks.seconds == 3.0


def test_progress_is_kept_for_each_student(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "progress.jsonl"
    assert keep_marks(some_marks(), path) == []
    assert keep_marks(some_marks("Bo"), path) == []
    assert keep_marks(some_marks(), path) == [some_marks()]
    assert len(path.read_text("utf-8").splitlines()) == 3


@pytest.mark.parametrize("line", ["{", "[]", '{"student": "Ada"}', "7"])
def test_a_file_that_is_no_progress_is_left_alone(tmp_path: Path, line: str) -> None:
    path = tmp_path / "notes.txt"
    path.write_text(line + "\n", encoding="utf-8")
    with pytest.raises(VoicecheckError, match=r"notes\.txt:1: .*--progress"):
        keep_marks(some_marks(), path)
    assert path.read_text("utf-8") == line + "\n"


def test_a_file_that_is_no_text_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "picture.png"
    path.write_bytes(b"\x89PNG\xff")
    with pytest.raises(VoicecheckError, match=r"no UTF-8 text.*--progress"):
        keep_marks(some_marks(), path)
    assert path.read_bytes() == b"\x89PNG\xff"


def test_progress_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(VoicecheckError, match="--progress"):
        keep_marks(some_marks(), tmp_path / "file" / "progress.jsonl")


@pytest.mark.parametrize("kind", ["horn", "bell", "clacker", None])
def test_each_sound_is_audible_and_begins_and_ends_softly(kind: str | None) -> None:
    sound = sound_named("stall tone", kind)
    assert LEVEL * 0.5 < np.max(np.abs(sound)) / 32767 <= LEVEL
    assert abs(int(sound[0])) < 50
    assert abs(int(sound[-1])) < 500


def test_a_sound_is_played_when_it_begins_and_cut_when_it_stops() -> None:
    now = [0.0]
    player = SilentPlayer(lambda: now[0])
    horns = Horns(player, {"horn": "horn"})
    for _ in range(3):
        horns.follow(("horn",))
    now[0] = len(sound_named("horn", "horn")) / RATE + 0.1
    assert len(player.heard()) == 1
    horns.follow(())
    horns.follow(("horn",))
    assert player.audible
    horns.follow(())
    assert not player.audible
