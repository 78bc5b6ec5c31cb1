"""A logbook of the first shape: its rows are kept, and get what they lack from the journals."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from cockpit import Cockpit

from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.audit import audit
from voicecheck.logbook.store.database import Database, open_database
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.store.reading import of_airframe

FIRST = datetime(2026, 11, 1, 10, 0, tzinfo=UTC)


def file(book: Database, log: Path, day: int, *calls: str) -> str:
    cockpit = Cockpit(log, started=FIRST + timedelta(days=day))
    for words in ("battery on and avionics on", "affirm", "going to reversers", *calls):
        cockpit.say(words)
        cockpit.quiet()
    cockpit.close()
    post(book, copy_of(cockpit.folder))
    return cockpit.folder.name


def told(book: Database) -> list[tuple[str, str | None, str]]:
    with book.reading() as connection:
        assert audit(connection).problems == ()
        return [(e.name, e.lamp, e.status.value) for e in of_airframe(connection, "ZZ-HJC")]


def back_to_the_first_shape(book: Database) -> None:
    config = Config()
    config.set_main_option("script_location", "voicecheck.logbook.store:migrations")
    with book.writing() as connection:
        config.attributes["connection"] = connection
        command.downgrade(config, "0001")


def test_an_old_logbook_is_parted_by_its_lamps(book: Database, url: str, log: Path) -> None:
    one = file(book, log, 0, "left side two", "left armed dark")
    deed = Deed(Act.DEFERRED, "M. Dipper", FIRST + timedelta(hours=1), "TL 17")
    act(book, f"{one}/1", deed)
    two = file(book, log, 4, "left side one", "left armed dark", "left unlocked dark")
    three = file(book, log, 5, "left side two")
    before = told(book)
    assert before == [
        (f"{one}/1", "L ARM", "deferred"),
        (f"{two}/1.2", "L UNLOCK", "open"),
        (f"{three}/1", None, "open"),
    ]
    back_to_the_first_shape(book)
    again = open_database(url, log)
    try:
        assert told(again) == before
    finally:
        again.close()


def test_what_was_filed_of_both_lamps_at_once_holds_for_these_two(
    book: Database, url: str, log: Path
) -> None:
    """So the first shape filed it: the text that was deferred named both."""
    one = file(book, log, 0, "left side one", "left armed dark", "left unlocked dark")
    two = file(book, log, 1, "left side dark")
    with book.writing() as connection:
        # as `act` of the first shape left it
        from voicecheck.logbook.store.ledger import Filed, append, lock

        lock(connection)
        at = "2026-11-01T11:00:00.000Z"
        values = {"kind": "deferred", "at": at, "who": "M", "reference": "TL 1", "note": "",
                  "category": "C", "due": "2026-11-11", "zone": "UTC",
                  "salt": "0" * 32}  # fmt: skip
        finding = connection.execute(
            sa.select(t.findings.c.id).join(t.sessions).where(t.sessions.c.session == one)
        ).scalar_one()
        new = sa.insert(t.actions).values(**values, finding_id=finding, filed=0)
        number = connection.execute(new.returning(t.actions.c.id)).scalar_one()
        content = {**values, "item": "reverser.left"}
        append(connection, Filed.ACTION, f"{one}#{number}", content, at, None)
    back_to_the_first_shape(book)
    again = open_database(url, log)
    try:
        assert told(again) == [
            (f"{one}/1.1", "L ARM", "deferred"),
            (f"{one}/1.2", "L UNLOCK", "deferred"),
            (f"{two}/1.3", "L DEPLOY", "open"),
        ]
    finally:
        again.close()


def test_a_place_in_the_chain_that_was_changed_is_found(book: Database, log: Path) -> None:
    """Said to have been filed earlier, a finding could hide behind a sign-off."""
    one = file(book, log, 0, "left side two", "left armed dark")
    act(book, f"{one}/1", Deed(Act.CLEARED, "M", FIRST + timedelta(hours=1), "TL 1"))
    for table, words in ((t.findings, "finding's place"), (t.actions, "action's place")):
        with book.writing() as connection:
            connection.execute(sa.update(table).values(filed=9))
        with book.reading() as connection:
            assert [p for p in audit(connection).problems if words in p]
