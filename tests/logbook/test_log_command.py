from __future__ import annotations

import json
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from typer.testing import CliRunner

from voicecheck.caution import CAUTION
from voicecheck.cli.log import app
from voicecheck.cli.log_options import default_log
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import load

Write = Callable[..., Path]
OTHER = "20261126T061500Z-ZZ-HAA-0001"


def run(*words: str | Path) -> Result:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


@pytest.fixture
def log(write_session: Write, summary: dict[str, Any]) -> Path:
    write_session(summary)
    return write_session(None, OTHER, started="2026-11-26T06:15:00.000Z").parent


def spoil(folder: Path) -> None:
    journal = folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b'"no horn"', b'"on horn"', 1))


def test_list(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    (log / "[red]odd").mkdir()
    result = run("list", "--log", log)
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[1].startswith(OTHER)
    assert "incomplete: the session ended without a summary" in lines[1]
    assert "2 findings, 1 more re-tested, 1 not tested, 1 void, incomplete" in lines[2]
    assert lines[3].startswith("[red]odd")


def test_list_as_json(log: Path) -> None:
    (log / "odd").mkdir()
    listed = json.loads(run("list", "--json", "--log", log).stdout)
    assert listed[0]["session"] == OTHER
    assert listed[1] == {
        "session": "20261125T061500Z-ZZ-HAA-4f2a",
        "started": "2026-11-25T06:15:00.000Z",
        "airframe": "ZZ-HAA",
        "record": "whole",
        "result": "2 findings, 1 more re-tested, 1 not tested, 1 void, incomplete",
        "behind": None,
        "problem": None,
    }
    assert "not named like a session" in listed[2]["problem"]


def test_a_changed_session_is_listed_without_its_result(log: Path) -> None:
    spoil(log / "20261125T061500Z-ZZ-HAA-4f2a")
    listed = json.loads(run("list", "--json", "--log", log).stdout)
    assert (listed[1]["record"], listed[1]["result"][:12]) == ("broken", "not reliable")


def test_an_empty_log(tmp_path: Path) -> None:
    result = run("list", "--log", tmp_path / "none")
    assert (result.exit_code, result.stdout[:11]) == (0, "No sessions")
    assert json.loads(run("list", "--json", "--log", tmp_path / "none").stdout) == []


@pytest.mark.parametrize("words", [("open",), ("verify", "--all"), ("trend", "ZZ-HAA")])
def test_a_log_that_is_not_there_is_no_good_answer(words: tuple[str, ...], tmp_path: Path) -> None:
    """A slip in --log must not read as "nothing is open", or as a proof of nothing."""
    result = run(*words, "--log", tmp_path / "none")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "--log" in result.stderr
    assert not (tmp_path / "none").exists()


def test_a_folder_without_a_session_proves_nothing(tmp_path: Path) -> None:
    result = run("verify", "--all", "--log", tmp_path)
    assert (result.exit_code, result.stdout) == (2, "")


def test_a_file_alone_cannot_be_held_against_a_key(log: Path) -> None:
    journal = log / "20261125T061500Z-ZZ-HAA-4f2a" / "journal.jsonl"
    result = run("verify", journal, "--signed-by", "AAAA")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "name the session" in result.stderr


def test_show(log: Path, summary: dict[str, Any]) -> None:
    shown = run("show", "20261125", "--log", log)
    assert shown.exit_code == 0
    assert "PILOT    three green" in shown.stdout
    told = json.loads(run("show", "20261125", "--json", "--log", log).stdout)
    assert (told["summary"], told["caution"]) == (summary, CAUTION)
    path = Path(run("report", "20261125", "--format", "json", "--log", log).stdout.strip())
    assert json.loads(path.read_text("utf-8"))["caution"] == CAUTION
    assert json.loads(run("show", "latest", "--json", "--log", log).stdout)["summary"] is None


def test_report_beside_the_journal_and_elsewhere(log: Path, tmp_path: Path) -> None:
    folder = log / "20261125T061500Z-ZZ-HAA-4f2a"
    for _ in range(2):  # its own report may be written again
        result = run("report", "20261125", "--log", log)
        assert (result.exit_code, result.stdout.strip()) == (0, str(folder / "report.html"))
    written = folder / "report.html"
    page = written.read_text()
    assert page.split("<h2>Open on ZZ-HAA")[0] in report(load(folder))
    assert "Engine fire: FIRE R dark; open since 2026-11-25" in page
    assert stat.S_IMODE(written.stat().st_mode) == 0o600
    other = tmp_path / "mine.html"
    assert run("report", "20261125", "--log", log, "--out", other).exit_code == 0
    other.write_text("mine")
    refused = run("report", "20261125", "--log", log, "--out", other)
    assert (refused.exit_code, other.read_text()) == (2, "mine")
    assert "exists already" in refused.stderr
    assert run("report", "20261125", "--log", log, "--out", other, "--force").exit_code == 0
    assert "FIRE R dark; open since" in other.read_text()
    lost = run("report", "20261125", "--log", log, "--out", tmp_path / "no" / "where.html")
    assert (lost.exit_code, lost.stderr.count("\n")) == (2, 1)
    assert not [path for path in folder.iterdir() if path.name.startswith(".")]


def test_verify_says_whole_broken_unfinished_in_its_status(log: Path) -> None:
    whole = log / "20261125T061500Z-ZZ-HAA-4f2a"
    result = run("verify", "20261125", "--log", log)
    assert result.exit_code == 0
    assert "chain whole, 15 lines, head " in result.stdout
    assert run("verify", whole / "journal.jsonl").exit_code == 0
    unfinished = run("verify", OTHER, "--log", log)
    assert unfinished.exit_code == 3
    assert "lines missing from the end would not show" in unfinished.stdout
    assert run("verify", "--all", "--log", log).exit_code == 3
    spoil(whole)
    for words in (("20261125", "--log", log), (whole / "journal.jsonl",), ("--all", "--log", log)):
        broken = run("verify", *words)
        assert broken.exit_code == 1
        assert "chain broken at line 8" in broken.stdout


def test_verify_all_counts_what_cannot_be_read_as_broken(log: Path) -> None:
    (log / "20261125T061500Z-ZZ-HAA-4f2a" / "journal.jsonl").write_bytes(b"\x00" * 5000)
    result = run("verify", "--all", "--log", log)
    assert result.exit_code == 1
    assert "cannot be read" in result.stdout


def test_verify_holds_the_summary_beside_against_the_journal(
    log: Path, summary: dict[str, Any]
) -> None:
    beside = log / "20261125T061500Z-ZZ-HAA-4f2a" / "summary.json"
    beside.write_text(json.dumps({**summary, "complete": True}))
    for text in (beside.read_text(), "{", ""):
        beside.write_text(text)
        result = run("verify", "20261125", "--log", log)
        assert result.exit_code == 1
        assert "summary.json differs" in result.stdout
    beside.unlink()
    assert run("verify", "20261125", "--log", log).exit_code == 0


def test_a_summary_beside_a_journal_without_one_shows_the_cut(log: Path) -> None:
    """Lines removed from the end are invisible to the chain, but not to the folder."""
    folder = log / "20261125T061500Z-ZZ-HAA-4f2a"
    lines = (folder / "journal.jsonl").read_bytes().splitlines(keepends=True)
    (folder / "journal.jsonl").write_bytes(b"".join(lines[:-1]))
    assert run("verify", folder / "journal.jsonl").exit_code == 3
    assert run("verify", "20261125", "--log", log).exit_code == 1


@pytest.mark.parametrize(
    "words",
    [
        ("verify",),
        ("verify", "latest", "--all"),
        ("verify", "/no/such/journal.jsonl"),
        ("verify", "1999"),
        ("show", "1999"),
        ("show", "../up"),
        ("report", "2026"),
    ],
)
def test_bad_usage_is_one_line_and_status_2(log: Path, words: tuple[str, ...]) -> None:
    result = run(*words, "--log", log)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("voicecheck: ")
    assert result.stderr.count("\n") == 1


def test_unknown_options_and_commands_are_usage_errors() -> None:
    assert run("list", "--nonsense").exit_code == 2
    assert run("burn").exit_code == 2
    assert run().exit_code == 2


def test_the_log_folder_comes_from_the_environment_or_the_user_state(
    log: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("VOICECHECK_LOG", str(log))
    assert run("show", "20261125").exit_code == 0
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert default_log() == tmp_path / "state" / "voicecheck" / "log"
