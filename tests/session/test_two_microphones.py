"""Pilot left, second crew member right, each faintly in the other's microphone, by real ears."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import soundfile

from voicecheck.session.display import Quiet
from voicecheck.session.options import CockpitOptions, HearingOptions, RunOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.run import run
from voicecheck.world.synthesis import Talker

RATE = 16_000
CREW = (Talker("flite", "rms"), Talker("festival", "cmu_us_slt_arctic_hts"))
CROSSTALK = 10 ** (-18 / 20)
CALLS = (
    (0, "battery on"),
    (0, "affirm"),
    (1, "avionics off"),
    (1, "affirm"),
    (0, "going to fire alfa"),
    (1, "say again"),
    (0, "bell sounding"),
    (1, "bell sounding"),
    (0, "read back"),
)
GAP = 5.0


def recorded(path: Path) -> list[tuple[int, float, float]]:
    """Write the stereo recording; returns who spoke from when to when."""
    spans = []
    lanes = np.random.default_rng(3).normal(0, 15, (round((len(CALLS) * GAP + 4) * RATE), 2))
    for number, (who, words) in enumerate(CALLS):
        sound = CREW[who].say(words).astype(float)
        at = round((2 + number * GAP) * RATE)
        lanes[at : at + len(sound), who] += sound
        # Half a millisecond later: 17 cm at the speed of sound, a shoulder's width away.
        lanes[at + 8 : at + 8 + len(sound), 1 - who] += sound * CROSSTALK
        spans.append((who, at / RATE, (at + len(sound)) / RATE))
    soundfile.write(path, np.clip(lanes, -32768, 32767).astype(np.int16), RATE)
    return spans


def test_every_call_counts_for_the_one_who_made_it(tmp_path: Path) -> None:
    wav = tmp_path / "crew.wav"
    spans = recorded(wav)
    finished = run(
        RunOptions(
            "tarn-40",
            "ZZ-HAA",
            tmp_path / "log",
            wav=wav,
            recorded_at="2026-01-05T06:15:00Z",
            second="Bo Lind",
            cockpit=CockpitOptions(channels=2),
            hearing=HearingOptions(second="off"),
        ),
        cache_dir(),
        Quiet(),
    )
    lines = (finished.folder / "journal.jsonl").read_text("utf-8").splitlines()
    events = [json.loads(line).get("event", {}) for line in lines]
    assert [e["channels"] for e in events if e.get("type") == "began"] == [2]
    who_spoke = []
    for event in events:
        if event.get("type") not in ("heard", "unclear"):
            continue
        middle = (event["start"] + event["end"]) / 2
        (speaker,) = [who for who, start, end in spans if start - 0.3 < middle < end + 0.3]
        assert event["channel"] == speaker, event
        who_spoke.append(speaker)
    assert who_spoke.count(0) >= 3
    assert who_spoke.count(1) >= 3
    ignored = [json.loads(line) for line in lines if '"kind":"speech"' in line.replace(" ", "")]
    assert any(entry["reason"] == "louder on the other microphone" for entry in ignored)
