"""A long run broken off and gone on with: nothing that was played is lost or counted twice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fleet import loaded

from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.accumulate import Accumulated
from voicecheck.rehearsal.cast import MANNERS
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms, play_fast
from voicecheck.rehearsal.tally import Tally

TERMS: dict[str, Any] = {"checklist": "skerry-j2", "airframe": None, "seed": 5}


def outcomes(count: int) -> list[Outcome]:
    terms = Terms("random", *MANNERS["unruly"], seed=5)
    return [play_fast(loaded("ZZ-HJC"), number, terms) for number in range(count)]


def tallied(some: list[Outcome]) -> Tally:
    tally = Tally()
    for outcome in some:
        tally.add(outcome)
    return tally


def test_a_run_that_was_broken_off_gives_the_table_of_one_that_was_not(tmp_path: Path) -> None:
    path, played = tmp_path / "run.jsonl", outcomes(6)
    first = Accumulated(path, TERMS)
    for number in (0, 3, 1):  # side by side they end in any order
        first.add(played[number])
    again = Accumulated(path, TERMS)
    assert again.missing(None, 6) == [2, 4, 5]
    for number in again.missing(None, 6):
        again.add(played[number])
    last = Accumulated(path, TERMS)
    assert last.missing(None, 6) == []
    assert tallied(list(last.of(None, 6))) == tallied(played)


def test_noise_levels_are_kept_apart_and_a_run_can_grow(tmp_path: Path) -> None:
    path, (one, two, *_) = tmp_path / "run.jsonl", outcomes(2)
    kept = Accumulated(path, TERMS)
    kept.add(one)
    kept.add(replace(two, noise_db=10.0))
    kept = Accumulated(path, TERMS)
    assert kept.missing(None, 3) == [1, 2]
    assert kept.missing(10.0, 3) == [0, 2]
    assert [found.noise_db for found in kept.of(10.0, 3)] == [10.0]


@pytest.mark.parametrize("cut", [1, 20, 200])
def test_half_a_line_is_dropped_and_its_session_played_again(tmp_path: Path, cut: int) -> None:
    path, played = tmp_path / "run.jsonl", outcomes(2)
    kept = Accumulated(path, TERMS)
    for outcome in played:
        kept.add(outcome)
    path.write_bytes(path.read_bytes()[:-cut])
    kept = Accumulated(path, TERMS)
    assert kept.missing(None, 2) == [1]
    kept.add(played[1])
    assert list(Accumulated(path, TERMS).of(None, 2)) == [replace(o, evidence={}) for o in played]


def test_sessions_on_other_terms_are_not_put_together(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    Accumulated(path, TERMS)
    with pytest.raises(VoicecheckError, match=r"run\.jsonl:1: .*seed: 5, now 6.*--keep"):
        Accumulated(path, {**TERMS, "seed": 6})


@pytest.mark.parametrize("line", ["hello", "[]", '{"number": 1}', "7"])
def test_a_file_of_something_else_is_left_alone(tmp_path: Path, line: str) -> None:
    path = tmp_path / "notes.txt"
    Accumulated(path, TERMS)
    text = path.read_text("utf-8") + line + "\n"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(VoicecheckError, match=r"notes\.txt:2: .*--keep"):
        Accumulated(path, TERMS)
    assert path.read_text("utf-8") == text


def test_a_first_line_of_something_else_is_told(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_bytes(b"\xff\xfe\n")
    with pytest.raises(VoicecheckError, match=r"notes\.txt:1: .*--keep"):
        Accumulated(path, TERMS)
    for text in ("dear diary\n", "no line end"):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(VoicecheckError, match=r"notes\.txt:1: .*--keep"):
            Accumulated(path, TERMS)
        assert path.read_text("utf-8") == text


def test_a_folder_is_no_file_to_keep_sessions_in(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="--keep"):
        Accumulated(tmp_path, TERMS)
