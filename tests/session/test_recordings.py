"""The four staged crews through the default listeners, and what the log makes of them."""

from __future__ import annotations

import html
import json
import wave
from pathlib import Path
from typing import Any

import pytest

from voicecheck.caution import CAUTION
from voicecheck.journal.reader import verify
from voicecheck.rehearsal.record import differences
from voicecheck.session.display import Quiet
from voicecheck.session.options import RunOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.replay import replay
from voicecheck.session.result import exit_status
from voicecheck.session.run import Finished, run
from voicecheck.shipped import recordings_dir

NAMES = ["all-satisfactory", "three-findings", "interrupted", "noisy-chatter"]
STATUS = {"all-satisfactory": 0, "three-findings": 1, "interrupted": 0, "noisy-chatter": 0}


def side_of(name: str) -> dict[str, Any]:
    side: dict[str, Any] = json.loads((recordings_dir() / f"{name}.json").read_text("utf-8"))
    return side


def listen_to(name: str, folder: Path) -> Finished:
    side = side_of(name)
    options = RunOptions(
        side["checklist"],
        side["airframe"],
        folder / "log",
        wav=recordings_dir() / f"{name}.wav",
        pilot=side["crew"]["pilot"],
        mixdown=folder / "mixdown.wav",
    )
    return run(options, cache_dir(), Quiet())


# Once more of one: the same sound gives the same, whatever was heard before it.
@pytest.mark.parametrize(("name", "again"), [*((name, 1) for name in NAMES), ("three-findings", 2)])
def test_a_recording_gives_its_true_outcomes(name: str, again: int, tmp_path: Path) -> None:
    side = side_of(name)
    finished = listen_to(name, tmp_path)
    assert differences(side["truth"], finished.summary) == []
    assert exit_status(finished.summary) == STATUS[name]

    replayed = replay(finished.folder).summary
    assert json.loads(json.dumps(replayed)) == json.loads(json.dumps(finished.summary))

    if again == 1:
        assert verify(finished.folder / "journal.jsonl").ok
        page = html.unescape((finished.folder / "report.html").read_text("utf-8"))
        assert CAUTION in page
        transcript = (finished.folder / "transcript.txt").read_text("utf-8")
        assert CAUTION in " ".join(transcript.split())
        assert json.loads((finished.folder / "summary.json").read_text("utf-8"))
        assert_nothing_outside_the_script_counted(side, finished)
        assert_the_mixdown_holds_crew_and_prompts(side, finished)


def assert_nothing_outside_the_script_counted(side: dict[str, Any], finished: Finished) -> None:
    """Every callout acted on was spoken by the pilot at that time, in those words."""
    lines = (finished.folder / "journal.jsonl").read_text("utf-8").splitlines()
    events = [json.loads(line).get("event", {}) for line in lines]
    for event in events:
        if event.get("type") != "heard":
            continue
        spoken = [
            said
            for said in side["said"]
            if said["start"] - 0.3 < (event["start"] + event["end"]) / 2 < said["end"] + 0.3
        ]
        assert any(event["callout"] in said["callouts"] for said in spoken), event


def assert_the_mixdown_holds_crew_and_prompts(side: dict[str, Any], finished: Finished) -> None:
    """RIFF/WAVE, 16 kHz, mono, 16 bit, read by the standard library's `wave`."""
    assert finished.mixdown is not None
    with wave.open(str(finished.mixdown)) as mix:
        assert (mix.getframerate(), mix.getnchannels(), mix.getsampwidth()) == (16000, 1, 2)
        assert mix.getnframes() >= (side["seconds"] - 3) * 16000


def test_the_recordings_are_made_by_unrelated_voices() -> None:
    sides = [side_of(name) for name in NAMES]
    pilots = {str(side["made"]["voices"]["pilot"]) for side in sides}
    assert len(pilots) >= 3
    assert any(len(side["made"]["voices"]) > 1 for side in sides)
    noisy = side_of("noisy-chatter")
    assert noisy["made"]["noise"]["db"] <= 15
    assert sum(1 for said in noisy["said"] if not said["callouts"]) >= 5
