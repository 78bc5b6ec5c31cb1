"""Remarks on a finished session: appended, chained, tied to the lines they are about."""

from __future__ import annotations

import json
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cockpit import Cockpit

from voicecheck.errors import InputError, VoicecheckError
from voicecheck.journal.reader import verify
from voicecheck.journal.storage import JournalInUse
from voicecheck.logbook.annotations import ANNOTATIONS, LONGEST, TORN, annotate, read_annotations

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    cockpit = Cockpit(tmp_path)
    cockpit.say("battery on")
    cockpit.close()
    return cockpit.folder


def test_a_remark_is_added_and_the_journal_stays_whole(folder: Path) -> None:
    before = (folder / "journal.jsonl").read_bytes()
    assert read_annotations(folder) == []
    annotate(folder, 2, " it was the\nother bus ", by="Zoë", now=NOW)
    annotate(folder, 2, "no, it was not", now=NOW)
    found = read_annotations(folder)
    assert [(a.n, a.line, a.text, a.by) for a in found] == [
        (0, 2, "it was the other bus", "Zoë"),
        (1, 2, "no, it was not", None),
    ]
    assert found[0].utc.startswith("2026-11-25T09:00:00")
    assert (folder / "journal.jsonl").read_bytes() == before
    assert verify(folder / "journal.jsonl").ok
    assert (folder / ANNOTATIONS).stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("line", "text", "problem"),
    [
        (2, "", "needs words"),
        (2, " \n\t", "needs words"),
        (2, "x" * (LONGEST + 1), "at most"),
        (9999, "x", "no line 9999"),
        (-1, "x", "no line -1"),
    ],
)
def test_what_cannot_be_added_is_told_and_leaves_nothing(
    folder: Path, line: int, text: str, problem: str
) -> None:
    with pytest.raises(VoicecheckError, match=problem):
        annotate(folder, line, text, now=NOW)
    assert not (folder / ANNOTATIONS).exists()


def test_no_byte_of_the_remarks_can_be_changed_unseen(folder: Path) -> None:
    for text in ("one", "two", "three"):
        annotate(folder, 1, text, now=NOW)
    path = folder / ANNOTATIONS
    whole = path.read_bytes()
    for place in range(len(whole) - 1):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        with pytest.raises(InputError):
            read_annotations(folder)
    lines = whole.splitlines(keepends=True)
    for changed in (lines[1:], [lines[1], lines[0], lines[2]], [lines[0], lines[2]]):
        path.write_bytes(b"".join(changed))
        with pytest.raises(InputError):
            read_annotations(folder)
        with pytest.raises(InputError):
            annotate(folder, 1, "after a break", now=NOW)


def test_a_line_cut_short_by_a_power_cut_stops_no_further_remark(folder: Path) -> None:
    annotate(folder, 1, "one", now=NOW)
    annotate(folder, 1, "two", now=NOW)
    path = folder / ANNOTATIONS
    whole = path.read_bytes()
    path.write_bytes(whole[:-30])
    assert [found.text for found in read_annotations(folder)] == ["one"]
    annotate(folder, 1, "three", now=NOW)
    assert [found.text for found in read_annotations(folder)] == ["one", "three"]
    left = (folder / TORN).read_bytes().rstrip(b"\n")
    assert left == whole[:-30].rpartition(b"\n")[2]


def test_a_remark_of_another_session_is_not_taken_for_this_one(
    folder: Path, tmp_path: Path
) -> None:
    annotate(folder, 2, "mine", now=NOW)
    other = Cockpit(tmp_path / "other", registration="ZZ-HAA")
    other.close()
    (other.folder / ANNOTATIONS).write_bytes((folder / ANNOTATIONS).read_bytes())
    with pytest.raises(InputError, match="changed, dropped or moved"):
        read_annotations(other.folder)


def test_two_who_write_at_once_lose_nothing(folder: Path) -> None:
    def write(name: str) -> None:
        count = 0
        while count < 10:
            try:
                annotate(folder, 1, f"{name} {count}", by=name, now=NOW)
                count += 1
            except JournalInUse:
                continue  # the page tells it; here we try again

    threads = [threading.Thread(target=write, args=(name,)) for name in ("a", "b")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = read_annotations(folder)
    assert len(found) == 20
    for name in ("a", "b"):
        assert [a.text for a in found if a.by == name] == [f"{name} {n}" for n in range(10)]


def test_a_link_is_not_followed(folder: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text(json.dumps({}), "utf-8")
    (folder / ANNOTATIONS).symlink_to(elsewhere)
    with pytest.raises(VoicecheckError):
        annotate(folder, 1, "x", now=NOW)
    assert elsewhere.read_text("utf-8") == "{}"
