from __future__ import annotations

import contextlib
import os
import resource
import stat
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from voicecheck.errors import VoicecheckError
from voicecheck.journal.reader import State, read, verify
from voicecheck.journal.storage import JournalInUse
from voicecheck.journal.writer import JournalUnwritable, JournalWriter

UTC_TEXT = "2026-11-25T06:15:05.000Z"


def test_files_and_folders_are_private(tmp_path: Path, header: dict[str, object]) -> None:
    folder = tmp_path / "log" / "session"
    old = os.umask(0)
    try:
        JournalWriter.create(folder, header).close()
    finally:
        os.umask(old)
    modes = [stat.S_IMODE(p.stat().st_mode) for p in (folder.parent, folder, *folder.iterdir())]
    assert modes == [0o700, 0o700, 0o600]


def test_each_line_is_on_the_disk_when_append_returns(
    tmp_path: Path, header: dict[str, object]
) -> None:
    with closing(JournalWriter.create(tmp_path / "s", header)) as writer:
        for k in range(3):
            writer.append("remark", {"text": str(k)}, datetime(2026, 11, 25, k, tzinfo=UTC))
            assert verify(writer.path).lines == k + 2


def test_a_session_is_never_overwritten(finished: Path, header: dict[str, object]) -> None:
    before = finished.read_bytes()
    with pytest.raises(VoicecheckError, match="this session exists"):
        JournalWriter.create(finished.parent, header)
    assert finished.read_bytes() == before


def test_a_second_writer_is_locked_out_until_the_first_ends(
    tmp_path: Path, header: dict[str, object]
) -> None:
    first = JournalWriter.create(tmp_path / "s", header)
    other = (
        "import sys, pathlib\n"
        "from voicecheck.journal.storage import JournalInUse\n"
        "from voicecheck.journal.writer import JournalWriter\n"
        "try:\n    JournalWriter.reopen(pathlib.Path(sys.argv[1])).close()\n"
        "except JournalInUse:\n    sys.exit(9)\n"
    )
    command = [sys.executable, "-c", other, str(first.path)]
    assert subprocess.run(command, check=False).returncode == 9
    with pytest.raises(JournalInUse):
        JournalWriter.reopen(first.path)
    first.close()
    assert subprocess.run(command, check=False).returncode == 0


def test_a_resumed_journal_is_one_chain(unfinished: Path) -> None:
    with closing(JournalWriter.reopen(unfinished)) as writer:
        writer.append("resumed", {"at": 4.0}, UTC_TEXT)
        writer.append("summary", {"summary": {}}, UTC_TEXT)
    assert verify(unfinished).ok
    assert not unfinished.with_name("journal.torn").exists()


def test_a_torn_line_is_kept_beside_and_remarked(unfinished: Path) -> None:
    good = unfinished.read_bytes()
    last = good.rstrip(b"\n").rfind(b"\n") + 1
    for cut in range(last + 1, len(good)):
        unfinished.write_bytes(good[:cut])
        torn = unfinished.with_name("journal.torn")
        torn.unlink(missing_ok=True)
        JournalWriter.reopen(unfinished, datetime(2026, 11, 25, 7, tzinfo=UTC)).close()
        assert torn.read_bytes() == good[last:cut] + b"\n"
        assert stat.S_IMODE(torn.stat().st_mode) == 0o600
        journal = read(unfinished)
        assert journal.verification.state is State.UNFINISHED
        assert unfinished.read_bytes().startswith(good[:last])
        assert len(journal.lines) == 5
        assert f"{cut - last} bytes" in str(journal.lines[-1].fields["text"])
        assert journal.lines[-1].utc == "2026-11-25T07:00:00.000Z"


def test_finished_changed_and_missing_journals_are_not_continued(
    finished: Path, unfinished: Path
) -> None:
    with pytest.raises(VoicecheckError, match="finished by its summary"):
        JournalWriter.reopen(finished)
    unfinished.write_bytes(unfinished.read_bytes().replace(b'"r1"', b'"rx"'))
    with pytest.raises(VoicecheckError, match="a changed journal is not continued"):
        JournalWriter.reopen(unfinished)
    link = unfinished.with_name("link.jsonl")
    link.symlink_to(unfinished)
    for path in (unfinished.with_name("none.jsonl"), unfinished.parent, link):
        with pytest.raises(VoicecheckError, match="cannot be opened"):
            JournalWriter.reopen(path)


@pytest.mark.parametrize(
    ("kind", "fields", "utc"),
    [
        ("remark", {"n": 7}, UTC_TEXT),
        ("summary", {"seal": "x"}, UTC_TEXT),
        ("rumour", {}, UTC_TEXT),
        ("header", {}, UTC_TEXT),
        ("remark", {"text": float("nan")}, UTC_TEXT),
        ("remark", {"text": "\udcff"}, UTC_TEXT),
        ("remark", {"text": object()}, UTC_TEXT),
        ("remark", {"text": "x" * 8 * 2**20}, UTC_TEXT),
        ("remark", {}, "noon"),
        ("remark", {}, datetime(2026, 11, 25)),
    ],
)
def test_a_line_it_cannot_hold_is_refused_and_not_counted(
    unfinished: Path, kind: str, fields: dict[str, object], utc: datetime | str
) -> None:
    with closing(JournalWriter.reopen(unfinished)) as writer:
        with pytest.raises(VoicecheckError):
            writer.append(kind, fields, utc)
        assert writer.pending == 0
        writer.append("remark", {"text": "good"}, UTC_TEXT)
    assert read(unfinished).lines[-1].fields == {"text": "good"}
    assert verify(unfinished).state is State.UNFINISHED


def test_nothing_follows_the_summary(unfinished: Path) -> None:
    with closing(JournalWriter.reopen(unfinished)) as writer:
        writer.append("summary", {"summary": {}}, UTC_TEXT)
        with pytest.raises(VoicecheckError, match="finished by its summary"):
            writer.append("remark", {}, UTC_TEXT)
    assert verify(unfinished).ok


def test_a_bad_header_leaves_no_file(tmp_path: Path, header: dict[str, object]) -> None:
    del header["airframe"]
    with pytest.raises(VoicecheckError, match="airframe"):
        JournalWriter.create(tmp_path / "s", header)
    assert not (tmp_path / "s" / "journal.jsonl").exists()


def _with_file_limit(limit: int, work: Callable[[], None]) -> None:
    """Do `work` while no file may grow beyond `limit` bytes, as on a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
    try:
        work()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_full_disk_loses_nothing(unfinished: Path) -> None:
    """The kernel itself refuses, after taking part of the line."""
    writer = JournalWriter.reopen(unfinished)
    length = unfinished.stat().st_size

    def fill() -> None:
        for k in range(3):
            with pytest.raises(JournalUnwritable, match="kept in memory") as caught:
                writer.append("remark", {"text": f"full {k}"}, UTC_TEXT)
            assert caught.value.pending == writer.pending == k + 1
            assert unfinished.stat().st_size == length  # no half line stands there

    _with_file_limit(length + 40, fill)
    assert writer.unwritten().count(b"\n") == 3
    writer.append("remark", {"text": "space again"}, UTC_TEXT)
    assert (writer.pending, writer.unwritten()) == (0, b"")
    writer.close()
    texts = [line.fields.get("text") for line in read(unfinished).lines[-4:]]
    assert texts == ["full 0", "full 1", "full 2", "space again"]
    assert verify(unfinished).state is State.UNFINISHED


def test_a_full_disk_at_the_start_leaves_no_file(tmp_path: Path, header: dict[str, object]) -> None:
    def start() -> None:
        with pytest.raises(JournalUnwritable, match="free space"):
            JournalWriter.create(tmp_path / "s", header)

    _with_file_limit(10, start)
    assert list((tmp_path / "s").iterdir()) == []
    JournalWriter.create(tmp_path / "s", header).close()


def test_closing_on_a_full_disk_tells_and_keeps_the_rest(unfinished: Path) -> None:
    writer = JournalWriter.reopen(unfinished)

    def close() -> None:
        with pytest.raises(JournalUnwritable):
            writer.append("remark", {"text": "late"}, UTC_TEXT)
        with pytest.raises(JournalUnwritable):
            writer.close()

    _with_file_limit(unfinished.stat().st_size, close)
    assert b'"late"' in writer.unwritten()
    JournalWriter.reopen(unfinished).close()  # the lock is free all the same


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60
)
@given(plan=st.lists(st.sampled_from(["good", "short", "full", "sync", "stuck"]), max_size=12))
def test_any_run_of_failures_ends_in_one_whole_chain(
    unfinished: Path, plan: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A faulty disk: short writes, ENOSPC half-way, failing fsync, failing truncate."""
    start = unfinished.read_bytes()
    real_write, real_sync, real_cut = os.write, os.fsync, os.ftruncate
    mode = "good"

    def write(fd: int, data: bytes) -> int:
        if mode in {"short", "full", "stuck"} and len(data) > 9:
            return real_write(fd, bytes(data[:9]))
        if mode in {"full", "stuck"}:
            raise OSError(28, "No space left on device")
        return real_write(fd, data)

    def sync(fd: int) -> None:
        if mode == "sync":
            raise OSError(5, "Input/output error")
        real_sync(fd)

    def cut(fd: int, length: int) -> None:
        if mode == "stuck":
            raise OSError(5, "Input/output error")
        real_cut(fd, length)

    with monkeypatch.context() as patched:
        patched.setattr(os, "write", write)
        patched.setattr(os, "fsync", sync)
        patched.setattr(os, "ftruncate", cut)
        writer = JournalWriter.reopen(unfinished)
        for k, mode in enumerate(plan):
            with contextlib.suppress(JournalUnwritable):
                writer.append("remark", {"text": f"line {k}"}, UTC_TEXT)
            assert (writer.pending > 0) == (mode in {"full", "stuck", "sync"})
        mode = "good"
        writer.append("summary", {"summary": {}}, UTC_TEXT)
        writer.close()
    texts = [line.fields.get("text") for line in read(unfinished).lines[5:-1]]
    assert texts == [f"line {k}" for k in range(len(plan))]
    assert verify(unfinished).ok
    unfinished.write_bytes(start)


def test_a_change_by_another_program_is_not_written_over(unfinished: Path) -> None:
    writer = JournalWriter.reopen(unfinished)
    with unfinished.open("ab") as other:
        other.write(b"foreign\n")
    with pytest.raises(JournalUnwritable, match="another program"):
        writer.append("remark", {}, UTC_TEXT)
    assert unfinished.read_bytes().endswith(b"foreign\n")
