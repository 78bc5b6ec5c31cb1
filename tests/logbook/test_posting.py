"""Filing sessions: once, whole, by several at a time, and never lost."""

from __future__ import annotations

import dataclasses
import json
import multiprocessing
import os
import resource
import signal
import subprocess
import sys
import textwrap
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from invented import place, series

from voicecheck.errors import VoicecheckError
from voicecheck.journal.writer import JournalWriter
from voicecheck.logbook.spool import SPOOL, expect, expected
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.audit import audit
from voicecheck.logbook.store.database import Database, DatabaseAway, open_database
from voicecheck.logbook.store.delivery import deliver
from voicecheck.logbook.store.posting import Posted, copy_of, post, stored_journal
from voicecheck.logbook.store.reading import of_airframe
from voicecheck.measure.invented_log import Invented, journal_of

START = datetime(2026, 11, 25, 6, 15, tzinfo=UTC)
TABLES = (t.sessions, t.journals, t.items, t.findings, t.timings, t.crews, t.entries)


def counts(book: Database) -> dict[str, int]:
    with book.reading() as connection:
        return {
            table.name: connection.execute(
                sa.select(sa.func.count()).select_from(table)
            ).scalar_one()
            for table in TABLES
        }


def problems(book: Database) -> tuple[str, ...]:
    with book.reading() as connection:
        return audit(connection).problems


def test_a_session_is_filed_once(book: Database, log: Path) -> None:
    folder = place(log, Invented("ZZ-ÅΩ漢", START, bad=(3,), pilot="Łucja 'O\u2019Brien'; DROP"))
    assert post(book, copy_of(folder)) is Posted.NEW
    once = counts(book)
    assert once == {"sessions": 1, "journals": 1, "items": 30, "findings": 1, "timings": 1,
                    "crews": 1, "entries": 1}  # fmt: skip
    for _ in range(2):
        assert post(book, copy_of(folder)) is Posted.KNOWN
    assert counts(book) == once
    assert problems(book) == ()
    with book.reading() as connection:
        assert stored_journal(connection, 1) == (folder / "journal.jsonl").read_bytes()
        assert [d.first.what for d in of_airframe(connection, "ZZ-ÅΩ漢")] == ["lamp 3 dark"]


def test_a_session_that_went_on_is_filed_again(book: Database, log: Path) -> None:
    part = Invented("ZZ-HAA", START, bad=(3, 5), finished=False)
    folder = place(log, part)
    assert post(book, copy_of(folder)) is Posted.NEW
    with book.reading() as connection:
        found = of_airframe(connection, "ZZ-HAA")
    # what was called before the session broke off is open all the same
    assert [d.first.what for d in found] == ["lamp 3 dark", "lamp 5 dark"]
    assert problems(book) == ()
    act(
        book,
        f"{part.id}/2",
        Deed(Act.CLEARED, who="M. Dipper", reference="TL 7", at=datetime.now(UTC)),
    )
    place(log, dataclasses.replace(part, finished=True))
    assert post(book, copy_of(folder)) is Posted.LONGER
    assert problems(book) == ()
    with book.reading() as connection:
        found = of_airframe(connection, "ZZ-HAA")
    assert [(d.first.item, d.status.value) for d in found] == [
        ("position-3.lights", "open"),
        ("position-5.lights", "cleared"),
    ]
    place(log, part)  # an old copy of the folder comes back
    assert post(book, copy_of(folder)) is Posted.KNOWN
    assert counts(book)["items"] == 30


def test_a_finding_that_was_withdrawn_after_it_was_deferred_stands_no_longer(
    book: Database, log: Path
) -> None:
    part = Invented("ZZ-HAA", START, bad=(3, 5), finished=False)
    folder = place(log, part)
    post(book, copy_of(folder))
    act(book, f"{part.id}/2", Deed(Act.DEFERRED, who="M. Dipper", reference="TL 7", category="C",
        at=datetime.now(UTC)))  # fmt: skip
    rest = json.loads(journal_of(Invented("ZZ-HAA", START, bad=(3,)))[0].splitlines()[-1])
    with closing(JournalWriter.reopen(folder / "journal.jsonl")) as writer:
        writer.append("summary", {"summary": rest["summary"]}, rest["utc"])
    assert post(book, copy_of(folder)) is Posted.LONGER
    assert problems(book) == ()
    with book.reading() as connection:
        found = of_airframe(connection, "ZZ-HAA")
    assert [(d.first.name, d.status.value) for d in found] == [(f"{part.id}/1", "open")]


def test_a_line_cut_short_is_left_out_until_it_is_mended(book: Database, log: Path) -> None:
    folder = place(log, Invented("ZZ-HAA", START, finished=False))
    journal = folder / "journal.jsonl"
    whole = journal.read_bytes()
    journal.write_bytes(whole[:-100])
    assert post(book, copy_of(folder)) is Posted.NEW
    journal.write_bytes(whole)
    assert post(book, copy_of(folder)) is Posted.LONGER
    assert problems(book) == ()


def test_a_different_journal_of_the_same_name_replaces_nothing(book: Database, log: Path) -> None:
    folder = place(log, Invented("ZZ-HAA", START))
    post(book, copy_of(folder))
    place(log, Invented("ZZ-HAA", START, out=4.2))
    with pytest.raises(VoicecheckError, match="differs from the journal that was filed"):
        post(book, copy_of(folder))
    assert problems(book) == ()


def test_a_changed_journal_is_not_filed_and_not_forgotten(book: Database, log: Path) -> None:
    folder = place(log, Invented("ZZ-HAA", START))
    expect(log, folder.name)
    journal = folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b"both lights", b"boht lights", 1))
    delivery = deliver(log, book)
    assert delivery.filed == []
    assert "a changed journal is not filed" in delivery.waiting[0][1]
    assert expected(log) == [folder.name]


def test_while_the_database_is_away_sessions_wait(log: Path, tmp_path: Path) -> None:
    folder = place(log, Invented("ZZ-HAA", START))
    expect(log, folder.name)
    with pytest.raises(DatabaseAway):
        open_database("postgresql://nobody@127.0.0.1:9/none", log)
    assert expected(log) == [folder.name]
    later = open_database(f"sqlite:///{tmp_path / 'b.sqlite'}", log)
    assert deliver(log, later).filed == [folder.name]
    assert expected(log) == []
    assert deliver(log, later).filed == []
    later.close()


def test_folders_that_were_never_in_the_spool(lite: Database, log: Path) -> None:
    names = [place(log, one).name for one in series("ZZ-HAA", 3)]
    (log / "notes.txt").write_text("mine")
    assert deliver(log, lite).filed == []
    assert deliver(log, lite, every=True).filed == names


def test_a_session_that_ended_before_its_first_line(lite: Database, log: Path) -> None:
    (log / "20261125T061500Z-ZZ-HAA-0000").mkdir()
    expect(log, "20261125T061500Z-ZZ-HAA-0000")
    deliver(log, lite)  # by another session, just before this one makes its journal
    assert expected(log) == ["20261125T061500Z-ZZ-HAA-0000"]
    os.utime(log / SPOOL / "20261125T061500Z-ZZ-HAA-0000", (0, 0))
    expect(log, "20261125T061500Z-ZZ-HAA-lost")  # its folder is not there: perhaps unmounted
    assert [name for name, _ in deliver(log, lite).waiting] == ["20261125T061500Z-ZZ-HAA-lost"]
    assert expected(log) == ["20261125T061500Z-ZZ-HAA-lost"]


def test_a_spool_that_is_no_folder_is_told(lite: Database, log: Path) -> None:
    (log / SPOOL).write_text("")
    with pytest.raises(VoicecheckError, match="cannot be listed"):
        deliver(log, lite)


def _write(url: str, log: str, airframe: str, count: int) -> None:
    """One of several machines: files its own sessions, and one that all of them have."""
    folder = Path(log)
    book = open_database(url, folder)
    for one in series(airframe, count):
        post(book, copy_of(place(folder, one)))
    post(book, copy_of(place(folder, Invented("ZZ-ALL", START))))
    book.close()


def test_several_writers_at_once_lose_nothing(url: str, log: Path, tmp_path: Path) -> None:
    open_database(url, log).close()
    spawn = multiprocessing.get_context("spawn")
    writers = [
        spawn.Process(target=_write, args=(url, str(tmp_path / f"log{k}"), f"ZZ-H{k}", 12))
        for k in range(2)
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(120)
        assert writer.exitcode == 0
    book = open_database(url, log)
    assert counts(book)["sessions"] == counts(book)["entries"] == 2 * 12 + 1
    assert problems(book) == ()
    book.close()


KILLED = textwrap.dedent(
    """
    import sys
    from pathlib import Path
    from voicecheck.logbook.store.database import open_database
    from voicecheck.logbook.store.delivery import deliver
    log = Path(sys.argv[1])
    book = open_database(sys.argv[2], log)
    print("ready", flush=True)
    while True:
        deliver(log, book)
    """
)


def test_killed_while_filing_loses_and_doubles_nothing(url: str, log: Path) -> None:
    names = [place(log, one).name for one in series("ZZ-HAA", 40)]
    for name in names:
        expect(log, name)
    kills = 0
    for pause in (0.02, 0.06, 0.15):
        command = [sys.executable, "-c", KILLED, str(log), url]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
            try:
                process.wait(pause)
            except subprocess.TimeoutExpired:
                process.send_signal(signal.SIGKILL)
                kills += 1
    assert kills == 3
    book = open_database(url, log)
    filed = counts(book)["sessions"]
    assert set(expected(log)) >= set(names[filed:])
    deliver(log, book)
    assert counts(book)["sessions"] == counts(book)["entries"] == 40
    assert expected(log) == []
    assert problems(book) == ()
    book.close()


def _fill(log: str, limit: int) -> None:
    """File everything under a limit on the size of files, as on a disk that fills up."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    folder = Path(log)
    book = open_database(None, folder)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    try:
        deliver(folder, book)
    except DatabaseAway:
        os._exit(7)
    os._exit(0)


def test_a_full_disk_while_filing_loses_and_doubles_nothing(log: Path) -> None:
    names = [place(log, one).name for one in series("ZZ-HAA", 60)]
    for name in names:
        expect(log, name)
    spawn = multiprocessing.get_context("spawn")
    for limit in (180_000, 400_000):
        process = spawn.Process(target=_fill, args=(str(log), limit))
        process.start()
        process.join(120)
        assert process.exitcode == 7
    book = open_database(None, log)
    filed = counts(book)["sessions"]
    assert 0 <= filed < 60
    assert problems(book) == ()
    assert deliver(log, book).waiting == []
    assert counts(book)["sessions"] == counts(book)["entries"] == 60
    assert expected(log) == []
    assert problems(book) == ()
    book.close()
