from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from voicecheck.errors import InputError, VoicecheckError
from voicecheck.logbook.sessions import Session, Unreadable, find, load, sessions

Write = Callable[..., Path]
FIRST, SECOND, THIRD = (
    "20261125T061500Z-ZZ-HAA-4f2a",
    "20261126T061500Z-ZZ-HAA-0001",
    "20261127T061500Z-ZZ-HAB-0002",
)


def test_sessions_come_newest_first_unfinished_ones_too(
    write_session: Write, summary: dict[str, Any]
) -> None:
    log = write_session(summary, SECOND, started="2026-11-26T06:15:00.000Z").parent
    write_session(summary, FIRST)
    write_session(None, THIRD, started="2026-11-27T06:15:00.000Z")
    found = sessions(log)
    assert [entry.id for entry in found] == [THIRD, SECOND, FIRST]
    newest, older = found[0], found[1]
    assert isinstance(newest, Session)
    assert isinstance(older, Session)
    assert newest.summary is None
    assert older.summary is not None
    assert older.summary.airframe == "ZZ-HAA"


def test_bad_folders_are_listed_with_their_reason(
    write_session: Write, summary: dict[str, Any], tmp_path: Path
) -> None:
    log = write_session(summary).parent
    (log / "holiday").mkdir()
    (log / "stray.txt").write_text("not a folder")
    (log / "20260101T000000Z-ZZ-HAA-empty").mkdir()
    garbage = log / "20260102T000000Z-ZZ-HAA-junk"
    garbage.mkdir()
    (garbage / "journal.jsonl").write_bytes(b"\x00\x01")
    moved = log / "20260103T000000Z-ZZ-HAA-moved"
    moved.mkdir()
    (moved / "journal.jsonl").write_bytes((log / FIRST / "journal.jsonl").read_bytes())
    reasons = {e.id: e.problem for e in sessions(log) if isinstance(e, Unreadable)}
    assert {name.rsplit("-", 1)[-1]: reason for name, reason in reasons.items()}.keys() == {
        "holiday",
        "empty",
        "junk",
        "moved",
    }
    assert "not named like a session" in reasons["holiday"]
    assert "has no journal.jsonl" in reasons["20260101T000000Z-ZZ-HAA-empty"]
    assert "no complete line" in reasons[garbage.name]
    assert f"belongs to session {FIRST}" in reasons[moved.name]
    assert find(log, "latest").id == FIRST


def test_links_out_of_the_log_are_not_followed(
    write_session: Write, summary: dict[str, Any], tmp_path: Path
) -> None:
    outside = write_session(summary)
    log = tmp_path / "other"
    log.mkdir()
    (log / FIRST).symlink_to(outside, target_is_directory=True)
    inner = log / SECOND
    inner.mkdir()
    (inner / "journal.jsonl").symlink_to(outside / "journal.jsonl")
    found = sessions(log)
    assert all(isinstance(entry, Unreadable) for entry in found)
    assert len(found) == 2
    for name in (FIRST, SECOND):
        with pytest.raises(VoicecheckError):
            find(log, name)


def test_find_by_id_prefix_and_latest(write_session: Write, summary: dict[str, Any]) -> None:
    log = write_session(summary, FIRST).parent
    write_session(summary, SECOND, started="2026-11-26T06:15:00.000Z")
    write_session(summary, FIRST + "b")
    assert find(log, FIRST).id == FIRST  # though another begins with the same
    assert find(log, "20261126").id == SECOND
    assert find(log, "latest").id == SECOND
    with pytest.raises(VoicecheckError, match="fits 2 sessions"):
        find(log, "20261125")
    with pytest.raises(VoicecheckError, match="no session begins"):
        find(log, "1999")
    for odd in ("../log", "", "a/b", "*", f"{FIRST}\n"):
        with pytest.raises(VoicecheckError, match="not a session id"):
            find(log, odd)


def test_a_log_that_is_missing_is_empty_and_one_that_is_a_file_is_told(tmp_path: Path) -> None:
    assert sessions(tmp_path / "none") == []
    with pytest.raises(VoicecheckError, match="no session there yet"):
        find(tmp_path / "none", "latest")
    file = tmp_path / "file"
    file.write_text("")
    with pytest.raises(VoicecheckError, match="cannot be listed"):
        sessions(file)


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"schema": 2}, "schema"),
        ({"complete": "yes"}, "complete"),
        ({"items": [{"id": "x"}]}, "items.0"),
        ({"airframe": "ZZ-HAB"}, "the summary is of ZZ-HAB"),
    ],
)
def test_a_summary_that_is_not_understood_is_told_with_its_line(
    write_session: Write, summary: dict[str, Any], change: dict[str, object], complaint: str
) -> None:
    folder = write_session(None)
    folder.joinpath("journal.jsonl").unlink()
    bad = {**summary, **change}
    good_header = {key: summary[key] for key in ("schema", "airframe")}
    folder = write_session(bad, **good_header)
    with pytest.raises(VoicecheckError, match=complaint) as caught:
        load(folder)
    assert str(folder / "journal.jsonl:15") in str(caught.value)
    assert isinstance(caught.value, InputError) or "airframe" in change
