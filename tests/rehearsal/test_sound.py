"""The loop through synthetic voices and real listeners, and the command that runs all loops."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from voicecheck.cli import main


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
    row, _ = json.loads(out)["measurements"][0]["rows"]
    assert row["sessions"] == row["complete"] == 1, err
    assert row["called bad"] >= 2, "the lamp is in two positions"
    assert row["of these logged"].startswith("100 %")
    assert row["dangerous misses"].startswith("0 ")
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


def test_words_alone_from_the_command_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    status, out, err = call(
        capsys, monkeypatch, "all", "--sessions", 14, "--crew", "unruly", "--json"
    )
    assert status == 0, err
    row, _ = json.loads(out)["measurements"][0]["rows"]
    assert row["sessions"] == 14
    assert row["crashes"] == 0
    assert "Advisory only" in err


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
