"""The loop through synthetic voices and real listeners, and the command that runs all loops."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path

import pytest
from fleet import loaded

from voicecheck.checklist.resolved import Grade
from voicecheck.cli import main
from voicecheck.engine import rules
from voicecheck.engine.item_call import ItemCall
from voicecheck.engine.second_call import BY_CHANNEL
from voicecheck.engine.turn import Turn
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.judge import judge
from voicecheck.rehearsal.manners import Manners
from voicecheck.rehearsal.sound import SoundLoop
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import HearingOptions
from voicecheck.session.places import cache_dir
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import faults_from
from voicecheck.world.microphones import in_pink_noise
from voicecheck.world.voices import VOICES, Voices


def call(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *arguments: object
) -> tuple[int, str, str]:
    """Run the command in this process: status, standard output, standard error."""
    monkeypatch.setattr("sys.argv", ["voicecheck", "rehearse", *map(str, arguments)])
    with pytest.raises(SystemExit) as ended:
        main()
    out, err = capsys.readouterr()
    code = ended.value.code or 0
    return (code if isinstance(code, int) else 1), out, err


def test_one_session_through_sound(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    status, out, err = call(
        capsys,
        monkeypatch,
        *("tarn-40", "--airframe", "ZZ-HAC", "--sound", "--faults", "lamp-dark:FIRE L"),
        *("--seed", 5, "--json", "--out", tmp_path, "--keep", tmp_path / "run.jsonl"),
    )
    assert status == 0, err
    (row,) = json.loads(out)["measurements"][0]["rows"]
    assert row["sessions"] == row["complete"] == 1, err
    assert row["called bad"] >= 2, "the lamp is in two positions"
    assert row["of these logged"].startswith("100 %")
    assert row["dangerous misses"] == 0
    assert row["false findings"].startswith("0 ")
    assert row["cut"] == 0
    assert row["faster than real time"] > 1
    # Started again, nothing is left to play and the table is the same.
    monkeypatch.setattr("voicecheck.rehearsal.many.play_sound", None)
    _, again, _ = call(
        capsys,
        monkeypatch,
        *("tarn-40", "--airframe", "ZZ-HAC", "--sound", "--faults", "lamp-dark:FIRE L"),
        *("--seed", 5, "--json", "--keep", tmp_path / "run.jsonl"),
    )
    assert json.loads(again)["measurements"] == json.loads(out)["measurements"]


def test_two_people_with_a_microphone_each_through_sound() -> None:
    """A marked item is good once both have called it, each at a microphone of their own."""
    plane = loaded("ZZ-HAC")
    fault = faults_from("silent:gear.horn", plane.checklist, random.Random(5))
    chance = random.Random(5)
    crew = Crew(
        plane.checklist,
        Aircraft(plane.checklist, fault, 5),
        Manners(),
        chance,
        second=True,
        channels=2,
    )
    ears = [open_hearing(plane.language, HearingOptions(), cache_dir()) for _ in range(2)]
    voices = Voices(VOICES, cache_dir())
    played = SoundLoop(plane, crew, ears, voices, in_pink_noise(2, None, 0)).play()
    judged = judge(plane.checklist, crew.account, played.session, played.summary)
    assert (judged.dangerous, judged.careless, judged.false_findings) == ((), (), ())
    assert played.summary["complete"]
    assert judged.called_bad == judged.found == 1
    items = {item["id"]: item for item in played.summary["items"]}
    marked = [item.id for item in plane.checklist.items if item.read_back]
    assert marked
    assert {items[item]["read_back"] for item in marked} == {plane.checklist.record[BY_CHANNEL]}
    assert items["anti-skid.out"]["outcome"] == "satisfactory", "timed, though both hear each call"
    events = [line["event"] for line in played.lines if line["kind"] == "event"]
    assert {event["channel"] for event in events if event["type"] == "heard"} == {0, 1}
    assert played.sound.shape[1] == 2


def test_words_alone_from_the_command_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    status, out, err = call(
        capsys, monkeypatch, "all", "--sessions", 14, "--crew", "unruly", "--json"
    )
    assert status == 0, err
    (row,) = json.loads(out)["measurements"][0]["rows"]
    assert row["sessions"] == 14
    assert row["crashes"] == 0
    assert "Advisory only" in err


def test_what_went_wrong_is_shown_with_its_journal_and_kept(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """An engine that takes a good call for a bad one, and a missing bell for a bell."""
    whole = rules.decide

    def deaf(turn: Turn, call: ItemCall) -> None:
        # What is read back is what was said.
        reading = call.reading
        if call.item.id == "fire.bell":
            reading = replace(reading, grade=Grade.GOOD)
        elif call.item.id == "gear.unsafe":
            reading = replace(reading, grade=Grade.BAD, finding="GEAR UNSAFE dark")
        whole(turn, replace(call, reading=reading))

    monkeypatch.setattr(rules, "decide", deaf)
    status, out, err = call(
        capsys,
        monkeypatch,
        *("skerry-j2", "--airframe", "ZZ-HJC", "--faults", "silent:fire.bell", "--json"),
        *("--crew", "perfect", "--seed", 5, "--out", tmp_path),
    )
    assert status == 1
    told = err.splitlines()
    assert told[1].startswith("DANGEROUS   ZZ-HJC session 0: fire.bell: "), err
    assert "called 'no bell'" in told[1]
    assert any("false       ZZ-HJC session 0: gear.unsafe" in line for line in told)
    assert any("Heard(callout='fire.bell:bad'" in line for line in told), "its journal"
    (kept,) = tmp_path.iterdir()
    assert told[-1].strip() == f"kept as {kept}"
    facts = json.loads(kept.read_text("utf-8"))
    assert [facts["airframe"], facts["faults"]] == ["ZZ-HJC", ["silent:fire.bell"]]
    assert len(facts["wrongly good"]) == len(facts["false findings"]) == 1
    assert facts["not as called"] == []
    assert any("Heard(" in line for line in facts["journal"])
    assert any(entry["words"] == "no bell" for entry in facts["account"])
    (row,) = json.loads(out)["measurements"][0]["rows"]
    assert row["dangerous misses"] == 1


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["skerry-j3"], "did you mean 'skerry-j2'?"),
        (["skerry-j2", "--airframe", "ZZ-HJX"], "ZZ-HJ"),
        (["all", "--airframe", "ZZ-HJX"], "leave --airframe out"),
        (["skerry-j2", "--crew", "rude"], "choose perfect, steady, unruly"),
        (["skerry-j2", "--noise", "10"], "--sound"),
        (["skerry-j2", "--keep", "run.jsonl"], "--sound"),
        (["skerry-j2", "--live", "--jobs", "2"], "one session at a time"),
        (["skerry-j2", "--sound", "--channels", "2"], "--people 2"),
        (["skerry-j2", "--live", "--people", "2", "--channels", "2"], "one microphone"),
        (["skerry-j2", "--airframe", "ZZ-HJC", "--as", "pilot", "--people", "2"], "--people"),
        (["skerry-j2", "--airframe", "ZZ-HJC", "--kneeboard"], "--as pilot or second"),
        (["skerry-j2", "--airframe", "ZZ-HJC", "--as", "watch", "--screen"], "--as pilot"),
        (["skerry-j2", "--as", "pilot"], "--airframe"),
        (["skerry-j2", "--airframe", "ZZ-HJC", "--as", "copilot"], "choose pilot, second or watch"),
    ],
)
def test_bad_input_is_one_line_with_its_remedy(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    told: str,
) -> None:
    status, out, err = call(capsys, monkeypatch, *arguments)
    assert status == 2
    assert told in " ".join((out + err).split())
    assert "Traceback" not in err


def test_faults_are_checked_before_anything_runs(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for more in ([], ["--as", "watch"]):
        arguments = ["skerry-j2", "--airframe", "ZZ-HJC", "--faults", "lamp-dark:NONE", *more]
        status, out, err = call(capsys, monkeypatch, *arguments)
        assert status == 2
        assert "'NONE' cannot have it" in " ".join((out + err).split())
