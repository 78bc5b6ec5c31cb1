from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from voicecheck.errors import InputError, VoicecheckError
from voicecheck.journal import reader
from voicecheck.journal.reader import State, read, verify

Rewrite = Callable[[bytes], Path]


def _lines(path: Path) -> list[bytes]:
    return path.read_bytes().splitlines(keepends=True)


def test_a_finished_journal_is_whole(finished: Path) -> None:
    found = verify(finished)
    assert (found.ok, found.state, found.problem, found.line) == (True, State.WHOLE, None, None)
    journal = read(finished)
    assert [line.kind for line in journal.lines] == [
        "header",
        "event",
        "event",
        "speech",
        "summary",
    ]
    assert journal.header.crew.pilot == "Å. Wren"
    assert journal.header.checklist.resolved == {"positions": []}
    assert journal.summary is not None
    assert journal.summary.fields["summary"] == {"complete": True}
    assert not journal.torn


def test_every_single_byte_matters(finished: Path, rewrite: Rewrite) -> None:
    """Each byte in turn: lowest bit, highest bit, a newline, removed, doubled."""
    good = finished.read_bytes()
    unseen = []
    for k, byte in enumerate(good):
        changes = {bytes([byte ^ 1]), bytes([byte ^ 0x80]), b"\n", b"", bytes([byte, byte])}
        for change in changes - {bytes([byte])}:
            altered = good[:k] + change + good[k + 1 :]
            if verify(rewrite(altered)).ok:
                unseen.append((k, change))
    assert unseen == []


def test_dropped_lines(finished: Path, rewrite: Rewrite) -> None:
    lines = _lines(finished)
    for k in range(len(lines) - 1):
        found = verify(rewrite(b"".join(lines[:k] + lines[k + 1 :])))
        assert (found.state, found.line) == (State.BROKEN, k + 1)


def test_swapped_doubled_and_foreign_lines(finished: Path, rewrite: Rewrite) -> None:
    lines = _lines(finished)
    for k in range(len(lines)):
        doubled = verify(rewrite(b"".join(lines[: k + 1] + lines[k:])))
        assert (doubled.state, doubled.line) == (State.BROKEN, k + 2)
        if k + 1 < len(lines):
            swapped = [*lines[:k], lines[k + 1], lines[k], *lines[k + 2 :]]
            assert verify(rewrite(b"".join(swapped))).line == k + 1
        foreign = b'{"kind":"remark","n":%d,"prev":"%s","text":"","utc":"%s"}\n' % (
            k,
            json.loads(lines[k])["prev"].encode(),
            b"2026-11-25T06:15:00.000Z",
        )
        inserted = verify(rewrite(b"".join([*lines[:k], foreign, *lines[k:]])))
        assert inserted.state is State.BROKEN


def test_lines_cut_from_the_end_leave_it_unfinished_never_whole(
    finished: Path, rewrite: Rewrite
) -> None:
    lines = _lines(finished)
    for k in range(1, len(lines)):
        found = verify(rewrite(b"".join(lines[:k])))
        assert (found.ok, found.intact) == (False, True)
        assert (found.state, found.lines) == (State.UNFINISHED, k)
        assert "missing from the end" in str(found.problem)


def test_every_cut_within_a_line_is_torn_not_tampered(finished: Path, rewrite: Rewrite) -> None:
    good = finished.read_bytes()
    first = len(_lines(finished)[0])
    for length in range(first + 1, len(good)):
        found = verify(rewrite(good[:length]))
        expected = State.UNFINISHED if good[length - 1 : length] == b"\n" else State.TORN
        assert found.state is expected
    journal = read(rewrite(good[:-1]))
    assert journal.torn
    assert journal.summary is None


@pytest.mark.parametrize("added", [b"x", b"\0\0", b"{}\n", b"\n"])
def test_bytes_after_the_summary_are_an_addition(
    finished: Path, rewrite: Rewrite, added: bytes
) -> None:
    found = verify(rewrite(finished.read_bytes() + added))
    assert (found.state, found.line) == (State.BROKEN, 6)


Lines = list[dict[str, Any]]


def _renumbered(lines: Lines) -> None:
    lines[2]["n"] = 7


def _second_header(lines: Lines) -> None:
    lines.insert(3, {**lines[0], "n": 3})
    for n, line in enumerate(lines):
        line["n"] = n


def _after_the_summary(lines: Lines) -> None:
    last = lines[-1]
    lines.append({"n": 5, "kind": "remark", "utc": last["utc"], "text": "more", "prev": ""})


@pytest.mark.parametrize(
    ("forge", "at", "problem"),
    [
        (_renumbered, 3, "has n 7 where 2 is due"),
        (_second_header, 4, "a second header"),
        (_after_the_summary, 6, "a line after the summary"),
    ],
)
def test_a_forgery_with_every_hash_made_anew_must_still_be_well_formed(
    finished: Path, rewrite: Rewrite, forge: Callable[[Lines], None], at: int, problem: str
) -> None:
    lines = [json.loads(line) for line in _lines(finished)]
    forge(lines)
    made, prev = [], "0" * 64
    for line in lines:
        line["prev"] = prev
        if line.pop("seal", None):
            line["seal"] = hashlib.sha256(_spelt(line)).hexdigest()
        made.append(_spelt(line))
        prev = hashlib.sha256(made[-1]).hexdigest()
    found = verify(rewrite(b"\n".join(made) + b"\n"))
    assert (found.state, found.line) == (State.BROKEN, at)
    assert problem in str(found.problem)


def _spelt(line: dict[str, Any]) -> bytes:
    return json.dumps(line, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'"text":"r3"', b'"text": "r3"'),
        (b'"text":"r3"', b'"text":"\\u00723"'),
        (b'"text":"r3"', b'"text":"r9","text":"r3"'),
    ],
)
def test_a_last_line_in_another_spelling_is_seen_without_a_line_after_it(
    unfinished: Path, old: bytes, new: bytes
) -> None:
    data = unfinished.read_bytes()
    assert old in data
    unfinished.write_bytes(data.replace(old, new))
    found = verify(unfinished)
    assert (found.state, found.line) == (State.BROKEN, 5)


def test_a_broken_journal_can_still_be_read(finished: Path, rewrite: Rewrite) -> None:
    altered = finished.read_bytes().replace(b"three green", b"three amber")
    journal = read(rewrite(altered))
    assert len(journal.lines) == 5
    assert journal.verification.state is State.BROKEN
    assert journal.verification.line == 4  # the line after the changed one no longer fits


@pytest.mark.parametrize(
    ("key", "value", "complaint"),
    [
        ("schema", 2, "schema 2 is not known"),
        ("schema", True, "schema True is not known"),
        ("rate", "16000", "rate:"),
        ("started", "yesterday", "started:"),
        ("session", "../../etc", "session:"),
        ("crew", {"pilot": None}, "crew.second:"),
    ],
)
def test_a_bad_header_is_told_with_file_and_line(
    finished: Path, rewrite: Rewrite, key: str, value: object, complaint: str
) -> None:
    header = json.loads(_lines(finished)[0])
    header[key] = value
    path = rewrite(json.dumps(header).encode() + b"\n")
    with pytest.raises(InputError) as caught:
        read(path)
    assert str(caught.value).startswith(f"{path}:1: ")
    assert complaint in str(caught.value)
    assert verify(path).state is State.BROKEN


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n",
        b"{",
        b"[]\n",
        b"\xff\xfe\n",
        b'{"n":NaN}\n',
        b'{"kind":"event","n":0,"utc":"2026-11-25T06:15:00Z"}\n',
        b'{"kind":"rumour","n":0,"utc":"2026-11-25T06:15:00Z"}\n',
        b"[" * 100_000 + b"\n",
        b"9" * 5000 + b"\n",
    ],
)
def test_what_is_no_journal_is_refused_in_one_line(rewrite: Rewrite, data: bytes) -> None:
    path = rewrite(data)
    assert verify(path).state is State.BROKEN
    with pytest.raises(InputError) as caught:
        read(path)
    assert str(caught.value).startswith(f"{path}:1: ")
    assert "\n" not in str(caught.value)


def test_huge_lines_and_files_are_not_swallowed(
    finished: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reader, "MAX_LINE", 100)
    assert "longer than 100 bytes" in str(verify(finished).problem)
    monkeypatch.setattr(reader, "MAX_FILE", 100)
    with pytest.raises(VoicecheckError, match="regular file"):
        verify(finished)


def test_links_folders_and_missing_files_are_refused(finished: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.jsonl"
    link.symlink_to(finished)
    for path in (link, tmp_path, tmp_path / "missing.jsonl"):
        with pytest.raises(VoicecheckError, match="name a journal file"):
            verify(path)
