"""Names and whole sessions go; the chain still verifies."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from invented import place
from typer.testing import CliRunner

from voicecheck.cli.log import app
from voicecheck.errors import VoicecheckError
from voicecheck.logbook.integrity import verify_session
from voicecheck.logbook.sessions import load
from voicecheck.logbook.spool import expect
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.audit import audit
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.delivery import deliver
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.store.reading import find_session, listed, session_from
from voicecheck.logbook.store.retention import older_than, purge_names, purge_sessions
from voicecheck.measure.invented_log import Invented
from voicecheck.words import english

START = datetime(2026, 1, 26, 10, 0, tzinfo=UTC)
NAME = "Þóra Ægisdóttir-Núñez"


def file(book: Database, log: Path, *sessions: Invented) -> None:
    for one in sessions:
        post(book, copy_of(place(log, one)))


def everything(book: Database) -> str:
    """All text of all tables."""
    with book.reading() as connection:
        return json.dumps(
            [
                [str(value) for value in row]
                for table in t.METADATA.sorted_tables
                if table is not t.journals
                for row in connection.execute(sa.select(table))
            ],
            ensure_ascii=False,
        )


def test_names_go_and_everything_still_verifies(book: Database, log: Path) -> None:
    one = Invented("ZZ-HAA", START, pilot=NAME, bad=(3,))
    file(book, log, one)
    folder = log / one.id
    (folder / "report.html").write_text(NAME)
    assert load(folder).crew.pilot == NAME
    assert NAME in everything(book)
    assert NAME.encode() not in (folder / "journal.jsonl").read_bytes()
    assert purge_names(book, log, [one.id], None) == [one.id]
    assert NAME not in everything(book)
    assert sorted(path.name for path in folder.iterdir()) == ["journal.jsonl"]
    assert load(folder).crew.pilot == english()("name-purged")
    assert verify_session(folder).ok
    with book.reading() as connection:
        found = audit(connection)
        assert (found.problems, found.entries) == ((), 2)
        assert session_from(connection, find_session(connection, "latest")).crew.pilot == english()(
            "name-purged"
        )
    assert purge_names(book, log, [one.id], None) == []
    post(book, copy_of(folder))
    assert NAME not in everything(book)


def test_a_purged_name_cannot_be_put_back_changed(lite: Database, log: Path) -> None:
    one = Invented("ZZ-HAA", START, pilot=NAME)
    folder = place(log, one)
    (folder / "crew.json").write_text((folder / "crew.json").read_text().replace("Þ", "T"))
    assert load(folder).crew.pilot == "name not as sealed in the journal"
    assert not verify_session(folder).intact
    with pytest.raises(VoicecheckError, match="not the one that the journal sealed"):
        copy_of(folder)


def test_whole_sessions_go_but_for_their_anchors(book: Database, log: Path) -> None:
    old, new = (
        Invented("ZZ-HAA", START, pilot=NAME, bad=(3,)),
        Invented("ZZ-HAA", START + timedelta(days=400)),
    )
    file(book, log, old, new)
    chosen = older_than(book, START + timedelta(days=100))
    assert chosen == [old.id]
    with pytest.raises(VoicecheckError, match="is not cleared; clear it first"):
        purge_sessions(book, log, chosen, None)
    act(book, f"{old.id}/1", Deed(Act.CLEARED, who="M. Dipper", reference="TL", at=START
        + timedelta(days=1)))  # fmt: skip
    assert purge_sessions(book, log, chosen, None) == [old.id]
    left = everything(book)
    assert NAME not in left
    assert "M. Dipper" not in left
    assert not (log / old.id).exists()
    with book.reading() as connection:
        assert audit(connection).problems == ()
        assert [entry.result[:6] for entry in listed(connection)] == ["no fin", "purged"]
        row = find_session(connection, old.id)
        with pytest.raises(VoicecheckError, match="was purged; only its anchor is left"):
            session_from(connection, row)
    assert older_than(book, START + timedelta(days=100)) == []
    place(log, old)  # an old copy turns up: it is not taken back in
    assert deliver(log, book, every=True).filed == []
    assert NAME not in everything(book)


def test_a_session_that_went_on_since_it_was_filed_is_kept(lite: Database, log: Path) -> None:
    part = Invented("ZZ-HAA", START, finished=False)
    file(lite, log, part)
    expect(log, part.id)  # as a resumed session does
    folder = place(log, replace(part, finished=True))
    with pytest.raises(VoicecheckError, match="has gone on since it was filed"):
        purge_sessions(lite, log, [part.id], None)
    assert (folder / "journal.jsonl").exists()
    assert deliver(log, lite).filed == [part.id]
    assert purge_sessions(lite, log, [part.id], None) == [part.id]


def test_the_command_shows_before_it_does(log: Path) -> None:
    one = Invented("ZZ-HAA", START, pilot=NAME)
    folder = place(log, one)
    words = ["purge", "--older-than", "30", "--names", "--log", str(log)]
    shown = CliRunner().invoke(app, words)
    assert "nothing was done" in shown.stdout
    assert (folder / "crew.json").exists()
    done = CliRunner().invoke(app, [*words, "--yes"])
    assert f"{one.id}: names purged" in done.stdout
    assert not (folder / "crew.json").exists()
    assert CliRunner().invoke(app, ["verify", "--all", "--log", str(log)]).exit_code == 0
