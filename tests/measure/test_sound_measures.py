"""The arithmetic behind the measurements of latency, and a short soak."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from voicecheck.measure.latency import Answer, answers
from voicecheck.measure.open_speaker import Flown, acted_on_over_prompts
from voicecheck.measure.soak import measure_soak
from voicecheck.measure.tap import loud_stretches


def test_stretches_of_sound_are_parted_by_quiet_alone() -> None:
    samples = np.zeros(32_000, np.int16)
    samples[1000:3000] = 900
    samples[5000:6000] = -900  # 0.125 s later: the same utterance
    samples[20_000:21_000] = 900
    samples[25_000] = 100  # too faint to be anything
    assert loud_stretches(samples) == [(1000, 6000), (20_000, 21_000)]
    assert loud_stretches(np.zeros(100, np.int16)) == []


def test_each_callout_is_paired_with_its_own_answer() -> None:
    said = [(1.0, 2.0), (5.0, 6.0), (9.0, 10.0)]
    decided = [2.5, 10.4]
    answered = [(0.2, 0.8), (2.6, 3.5), (10.5, 11.0)]
    assert answers(said, answered, decided) == [
        Answer(2.0, 2.5, 2.6),
        Answer(10.0, 10.4, 10.5),
    ]


def test_a_short_soak_leaves_files_and_threads_as_they_were() -> None:
    rows = measure_soak(0.02).as_json()["rows"]
    assert len(rows) == 9
    assert rows[-1]["callouts"] + rows[-1]["asked again"] > 0
    for flat in ("open files", "threads"):
        assert rows[-1][flat] == rows[1][flat]
    assert rows[-1]["stream h"] == pytest.approx(0.02, abs=0.005)


def test_a_flight_is_judged_by_what_the_crew_called() -> None:
    flown = Flown(truth={"a": "satisfactory", "b": "unsatisfactory", "c": "satisfactory"})
    outcomes = {"a": "satisfactory", "b": "satisfactory", "c": "not tested"}
    flown.summary = {"items": [{"id": i, "outcome": o} for i, o in outcomes.items()]}
    assert flown.differences() == [
        "b: called unsatisfactory, recorded satisfactory",
        "c: called satisfactory, recorded not tested",
    ]
    assert flown.dangerous() == ["b: called unsatisfactory, recorded satisfactory"]


def test_a_callout_over_a_prompt_is_found_in_the_journal(tmp_path: Path) -> None:
    events = [
        {"type": "prompted", "start": 2.0, "end": 4.0},
        {"type": "heard", "start": 3.9, "end": 4.5},
        {"type": "heard", "start": 4.1, "end": 4.5},
        {"type": "unclear", "start": 3.0, "end": 3.5},
    ]
    journal = tmp_path / "journal.jsonl"
    lines = [json.dumps({"event": event}) for event in events]
    journal.write_text("\n".join(['{"kind": "header"}', *lines]), "utf-8")
    assert acted_on_over_prompts(journal) == 1
