"""The arithmetic of the tables, on verdicts that are written down by hand."""

from __future__ import annotations

from typing import Any

import pytest

from voicecheck.measure.durations import latency_table, load_table, placement_table
from voicecheck.measure.manifest import Line
from voicecheck.measure.sentences import Kind
from voicecheck.measure.tally import (
    by_noise,
    by_voice,
    callouts_table,
    false_table,
    noise_table,
    words_table,
)
from voicecheck.measure.trial import Heard, Outcome, Trial


def trial(
    said: str,
    acted: str,
    asked: int = 0,
    *,
    kind: Kind = "callout",
    noise: str = "clean",
    voice: str = "ann",
    reference: str = "",
    **heard: Any,
) -> Trial:
    """Keys of callouts, separated by spaces."""
    line = Line(
        audio="x.wav",
        checklist="tarn-40",
        airframe="ZZ-HAA",
        state="between",
        said=said or None,
        start_s=1.0,
        end_s=2.0,
        noise=noise,
        kind=kind,
        voice=voice,
    )
    result = Heard(tuple(acted.split()), asked, **heard)
    return Trial(line, tuple(said.split()), result, reference)


@pytest.mark.parametrize(
    ("said", "acted", "asked", "outcome"),
    [
        ("a", "a", 0, Outcome.RIGHT),
        ("a b", "a b", 0, Outcome.RIGHT),
        ("a", "a", 1, Outcome.ASKED),
        ("a", "b", 0, Outcome.WRONG),
        ("a", "b", 1, Outcome.WRONG),
        ("a", "a a", 0, Outcome.WRONG),
        ("a b", "b a", 0, Outcome.WRONG),
        ("a b", "a", 0, Outcome.MISSED),
        ("a b", "a", 1, Outcome.ASKED),
        ("a", "", 1, Outcome.ASKED),
        ("a", "", 0, Outcome.MISSED),
        ("", "a", 0, Outcome.ACTED),
        ("", "a", 1, Outcome.ACTED),
        ("", "", 1, Outcome.BOTHERED),
        ("", "", 0, Outcome.LEFT),
    ],
)
def test_outcomes(said: str, acted: str, asked: int, outcome: Outcome) -> None:
    assert trial(said, acted, asked).outcome is outcome


TRIALS = [
    *[trial("a", "a") for _ in range(16)],
    trial("a", "b"),
    *[trial("a", "", 1, voice="bob") for _ in range(2)],
    trial("a", "", voice="bob"),
    trial("a", "a", noise="5 dB"),
    trial("a", "a", kind="opposite"),
    trial("a", "b", kind="opposite"),
    trial("", "b", kind="opposite"),
    trial("", "", 1, kind="opposite"),
    trial("", "", kind="chatter"),
]


def test_callouts_by_noise_and_voice() -> None:
    callouts = [t for t in TRIALS if t.line.kind == "callout"]
    table = callouts_table(callouts, "t", by_noise, "noise")
    clean, loud = table.as_json()["rows"]
    assert clean["said"] == 20
    # 16 of 20: the mirror of 4 of 20, 95 % limits computed with scipy 1.17.1.
    assert clean["right, % (95 %)"] == "80.0 (56.3-94.3)"
    assert clean["wrong, % (95 %)"].startswith("5.0 ")
    assert clean["asked again, % (95 %)"].startswith("10.0 ")
    assert clean["missed, % (95 %)"].startswith("5.0 ")
    assert loud["right, % (95 %)"] == "100.0 (2.5-100.0)"
    voices = callouts_table(callouts, "t", by_voice, "voice").as_json()["rows"]
    assert [row["voice"] for row in voices] == ["ann", "bob"]
    assert voices[1]["right, % (95 %)"].startswith("0.0 ")


def test_false_accepts_by_kind() -> None:
    rows = {row["kind"]: row for row in false_table(TRIALS).as_json()["rows"][1:]}
    assert rows["callout"]["noise"] == "5 dB"
    opposite = rows["opposite"]
    assert (opposite["said"], opposite["acted on"], opposite["asked"]) == (4, 2, 1)
    assert rows["chatter"]["acted on"] == 0


def test_noise_an_hour() -> None:
    half = [trial("", "", kind="noise", noise="pink", seconds=900.0) for _ in range(2)]
    quiet, whole = noise_table(half).as_json()["rows"]
    assert (quiet["hours"], quiet["an hour"]) == (0.5, 0.0)
    # Garwood (Biometrika 1936): none seen, one-sided 95 % limit 2.996 (from memory).
    assert whole["at most (95 %)"] == pytest.approx(2.996 / 0.5, abs=0.01)
    acted = [*half, trial("", "a b", 3, kind="noise", noise="hum", seconds=1800.0)]
    hum = noise_table(acted).as_json()["rows"][1]
    assert (hum["an hour"], hum["asked an hour"]) == (4.0, 6.0)


def test_words_as_jiwer_counts_them() -> None:
    # jiwer tests/test_measures.py (2025-02-14): "This is a test" / "This test" is 0.5.
    said = trial("a", "a", reference="this is a test", written="this test")
    (row,) = words_table([said]).as_json()["rows"]
    assert row["word error rate, %"] == 50.0
    assert (row["words"], row["left out"], row["put in"], row["exchanged"]) == (4, 2, 0, 0)
    # sclite (sctk 2.4.10) on these three: 11 words, S 2, D 2, I 2, 54.5 %.
    pairs = [
        ("fire warning light on", "fire warning lights on on"),
        ("x y x", "x z"),
        ("am i good i", "i good i am"),
    ]
    trials = [trial("a", "a", reference=ref, written=hyp) for ref, hyp in pairs]
    (row,) = words_table(trials).as_json()["rows"]
    assert (row["words"], row["exchanged"], row["left out"], row["put in"]) == (11, 2, 2, 2)
    assert row["word error rate, %"] == 54.5


def test_times_after_the_end_of_speech() -> None:
    trials = [
        trial("a", "a", decided=2.4, computed=0.1 * n, start=1.05, end=1.9, seconds=4.0, total=0.5)
        for n in (1, 2, 3)
    ]
    (row,) = latency_table(trials).as_json()["rows"]
    assert row["waiting, ms median"] == 400.0
    assert row["computing, ms median"] == 200.0
    assert row["computing p95"] == 290.0
    assert row["both, ms median"] == 600.0
    (placed,) = placement_table(trials).as_json()["rows"]
    assert (placed["start, ms median"], placed["end, ms median"]) == (50, -100)
    (load,) = load_table(trials, 321.0).as_json()["rows"]
    assert (load["sound, s"], load["real-time factor"]) == (12.0, 0.125)
