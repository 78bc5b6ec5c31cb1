"""The arithmetic behind the measurements of latency, and a short soak."""

from __future__ import annotations

import numpy as np
import pytest

from voicecheck.measure.latency import Answer, answers
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
