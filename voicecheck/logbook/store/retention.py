"""Taking away what need not or must not be kept, so that the chain still verifies.

Names: the crew's names go, from the database and from beside the journals here. Sessions: the
whole record goes; what is left is its anchor (hashes and counts), when it was, and of which
airframe. An entry in the chain says that it was done.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, delete, select, update

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import format_utc
from voicecheck.journal.storage import sync_folder
from voicecheck.logbook.crew import CREW
from voicecheck.logbook.discrepancies import standing
from voicecheck.logbook.filing import derived_files
from voicecheck.logbook.spool import expected
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.ledger import Filed, Sign, append, lock, purge_of
from voicecheck.logbook.store.reading import of_airframe


def older_than(database: Database, before: datetime) -> list[str]:
    """Sessions that began before, oldest first, but for those purged whole already."""
    query = select(t.sessions.c.session).where(
        t.sessions.c.started < format_utc(before), t.sessions.c.purged.is_(None)
    )
    with database.reading() as connection:
        return list(connection.execute(query.order_by(t.sessions.c.started)).scalars())


def purge_names(
    database: Database, log: Path, chosen: Sequence[str], sign: Sign | None
) -> list[str]:
    """Forget the crew of these sessions; returns those in which there was one to forget.

    Raises VoicecheckError, before anything is done, for a journal of an early version that has
    the names in its lines: only the whole session can be purged there.
    """
    done = []
    with database.writing() as connection:
        lock(connection)
        for session in chosen:
            number = _number(connection, session)
            rows = connection.execute(select(t.crews).where(t.crews.c.session_id == number)).all()
            if any(row.salt is None for row in rows):
                raise VoicecheckError(
                    f"{session}: an early version wrote the names into the journal itself; "
                    "purge the whole session, or leave it out"
                )
            if rows:
                connection.execute(delete(t.crews).where(t.crews.c.session_id == number))
                _enter(connection, session, "names", sign)
                done.append(session)
    for session in chosen:  # after the commit: what cannot be undone comes last
        folder = log / session
        if (folder / CREW).exists():
            for path in (*derived_files(folder), folder / CREW):  # reports hold names, too
                path.unlink(missing_ok=True)
            sync_folder(folder)
            if session not in done:
                done.append(session)
    return done


def purge_sessions(
    database: Database, log: Path, chosen: Sequence[str], sign: Sign | None
) -> list[str]:
    """Forget these sessions but for their anchors; returns those that were still there.

    Raises VoicecheckError, before anything is done, where a finding is open or deferred, and
    where the folder may hold more than was filed: nobody has looked at that for findings.
    """
    done = []
    waiting = set(expected(log))
    with database.writing() as connection:
        lock(connection)
        needed = {
            found.name.partition("/")[0]: found.name
            for entry in standing(of_airframe(connection, None))
            for found in entry.findings
        }
        for session in chosen:
            if session in waiting:
                raise VoicecheckError(
                    f"{session}: is being written, or has gone on since it was filed; end it and "
                    "`voicecheck log deliver`, or keep the session"
                )
            if session in needed:
                raise VoicecheckError(
                    f"{needed[session]} is not cleared; clear it first, or keep the session"
                )
            number = _number(connection, session)
            ours = select(t.findings.c.id).where(t.findings.c.session_id == number)
            connection.execute(delete(t.actions).where(t.actions.c.finding_id.in_(ours)))
            for table in (t.findings, t.items, t.timings, t.crews, t.journals):
                connection.execute(delete(table).where(table.c.session_id == number))
            connection.execute(
                update(t.sessions)
                .where(t.sessions.c.id == number)
                .values(
                    purged=format_utc(datetime.now(UTC)),
                    result="purged",
                    complete=None,
                    ended=None,
                    duration_s=None,
                    source="",
                    signature=None,
                )
            )
            _enter(connection, session, "session", sign)
            done.append(session)
    for session in done:
        if (log / session).is_dir() and not (log / session).is_symlink():
            shutil.rmtree(log / session)
    return done


def _number(connection: Connection, session: str) -> int:
    query = select(t.sessions.c.id).where(t.sessions.c.session == session)
    found = connection.execute(query).scalar_one_or_none()
    if found is None:
        raise VoicecheckError(f"{session}: is not filed; see `voicecheck log list`")
    return int(found)


def _enter(connection: Connection, session: str, what: str, sign: Sign | None) -> None:
    now = format_utc(datetime.now(UTC))
    append(connection, Filed.PURGE, session, purge_of(what, session), now, sign)
