"""A student as the second crew member, played by a synthetic voice that listens to the prompts."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from voicecheck.audio.source import BLOCK, RATE, AudioSource, Block
from voicecheck.cli import main
from voicecheck.rehearsal import second
from voicecheck.rehearsal.manners import Manners
from voicecheck.session.places import cache_dir
from voicecheck.world.journal_lines import ListeningIn
from voicecheck.world.voices import VOICES, sound_of

AFTER = 7.0
"""Seconds that the recording goes on after the student's last word."""


class Student:
    """Reads back `answers`, one each time that a read-back is wanted, and then says no more."""

    channels = 1
    name = "a student"

    def __init__(self, log: Path, answers: tuple[str, ...]) -> None:
        self._listening = ListeningIn(log)
        self._answers = list(answers)

    def blocks(self) -> Iterator[Block]:
        now, speaks_at, ends_at = 0.0, float("inf"), 400.0
        noise = np.random.default_rng(1)
        saying = np.zeros(0, np.int16)
        while now < ends_at:
            for line in self._listening.poll():
                if any(p[0] == "read-back-wanted" for p in line.prompts) and self._answers:
                    speaks_at = now + 3.5
            if now >= speaks_at:
                speaks_at = float("inf")
                saying = sound_of(VOICES[2], self._answers.pop(0), cache_dir())
                if not self._answers:
                    ends_at = now + len(saying) / RATE + AFTER
            block = noise.normal(0, 8, BLOCK)
            block[: len(saying[:BLOCK])] += saying[:BLOCK]
            saying = saying[BLOCK:]
            yield Block(block.astype(np.int16))
            now += BLOCK / RATE

    def stop(self) -> None:
        pass


def trained(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    answers: tuple[str, ...],
    *more: str,
) -> tuple[dict[str, object], list[dict[str, object]], str]:
    """One session: the marks, each call's, and what was shown."""
    log = tmp_path / "log"

    def student(*_: object) -> AudioSource:
        return Student(log, answers)

    monkeypatch.setattr("voicecheck.session.run.open_source", student)
    arguments = [
        *("rehearse", "tarn-40", "--airframe", "ZZ-HAC", "--as", "second", "--json"),
        *("--from", "student.wav", "--student", "Ada Fenn", "--log", str(log)),
        *("--progress", str(tmp_path / "progress.jsonl"), *more),
    ]
    monkeypatch.setattr("sys.argv", ["voicecheck", *arguments])
    with pytest.raises(SystemExit) as ended:
        main()
    out, shown = capsys.readouterr()
    assert not ended.value.code, shown
    told = json.loads(out)
    return told["marks"], told["calls"], shown


def test_a_student_who_reads_back_what_is_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(second, "PILOT", Manners(compound=0.0))
    marks, calls, shown = trained(
        tmp_path, capsys, monkeypatch, ("both fire lights",), "--faults", "none"
    )
    assert marks["student"] == "Ada Fenn, second"
    (call,) = calls
    assert call["item"].startswith("fire-")  # type: ignore[attr-defined]
    assert (call["right"], call["faulty"]) == (True, False)
    assert 1.0 < call["seconds"] < 6.0  # type: ignore[operator]
    assert (marks["items"], marks["right"], marks["missed"]) == (1, 1, [])
    assert "Advisory only" in shown
    assert "[FIRE L red]" in shown
    assert "Ada Fenn, second" in (tmp_path / "progress.jsonl").read_text("utf-8")


def test_a_student_who_notices_what_the_pilot_does_not(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """This seed's pilot calls both lights with one of them dark; the student has looked."""
    monkeypatch.setattr(second, "PILOT", Manners(misread=1.0, compound=0.0))
    marks, calls, shown = trained(
        tmp_path, capsys, monkeypatch, ("one fire light",), "--faults", "lamp-dark:FIRE L",
        "--seed", "4",
    )  # fmt: skip
    assert (calls[0]["right"], calls[0]["faulty"]) == (True, True)
    assert calls[0]["item"] not in marks["missed"]  # type: ignore[operator]
    (journal,) = (tmp_path / "log").glob("*/journal.jsonl")
    assert '"disagreement"' in journal.read_text("utf-8"), shown


def test_a_student_who_only_echoes_misses_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(second, "PILOT", Manners(misread=1.0, compound=0.0))
    marks, calls, _ = trained(
        tmp_path, capsys, monkeypatch, ("both fire lights",), "--faults", "lamp-dark:FIRE L",
        "--seed", "4",
    )  # fmt: skip
    assert (calls[0]["right"], calls[0]["faulty"]) == (False, True)
    assert calls[0]["item"] in marks["missed"]  # type: ignore[operator]
    assert marks["right"] < marks["items"]  # type: ignore[operator]
