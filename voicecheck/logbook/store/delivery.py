"""Filing what waits in the spool, as far as the database takes it."""

from __future__ import annotations

import fcntl
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, select

from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.logbook.spool import begins, expected, filed
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.database import FILE, Database, DatabaseAway
from voicecheck.logbook.store.ledger import Sign
from voicecheck.logbook.store.posting import Posted, copy_of, post

_CHUNK: Final = 500
"""Names asked for at once: every database takes so many values."""


@dataclass(slots=True)
class Delivery:
    """filed: sessions that the database took now. waiting: id and why it could not be filed."""

    filed: list[str] = field(default_factory=list)
    waiting: list[tuple[str, str]] = field(default_factory=list)


def deliver(
    log: Path, database: Database, sign: Sign | None = None, *, every: bool = False
) -> Delivery:
    """File all that waits. every: also session folders that were never put in the spool.

    A session that is still being written is left alone. Raises DatabaseAway, at the first
    refusal; what was not filed by then stays in the spool.
    """
    delivery = Delivery()
    waiting = expected(log)
    names = waiting + (_strangers(log, database, set(waiting)) if every else [])
    for name in names:
        folder = log / name
        if folder.is_symlink():
            delivery.waiting.append((name, "a link, not a session's own folder; remove it"))
            continue
        if being_written(folder):
            continue
        if folder.is_dir() and not (folder / JOURNAL).exists():
            if not begins(log, name):
                filed(log, name)  # it ended before its first line: there is nothing to file
            continue
        try:
            done = post(database, copy_of(folder), sign)
        except DatabaseAway:
            raise
        except (VoicecheckError, OSError) as error:
            delivery.waiting.append((name, str(error)))
            continue
        if done is not Posted.KNOWN:
            delivery.filed.append(name)
        filed(log, name)
    return delivery


def being_written(folder: Path) -> bool:
    """Whether a session holds the lock of this journal now."""
    try:
        fd = os.open(folder / JOURNAL, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        fcntl.flock(fd, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(fd)
    return False


def _strangers(log: Path, database: Database, but: set[str]) -> list[str]:
    """Session folders that the database does not know; a link would lead out of the log."""
    with database.reading() as connection:
        names = unknown(log, connection)
    return [
        name
        for name in names
        if name not in but and (log / name / JOURNAL).is_file() and not (log / name).is_symlink()
    ]


def unknown(log: Path, connection: Connection) -> list[str]:
    """Whatever lies in the log folder and is not filed, by name, but for files of our own."""
    try:
        names = sorted(path.name for path in log.iterdir() if not path.name.startswith("."))
    except FileNotFoundError:
        return []
    except OSError as error:
        raise VoicecheckError(
            f"{log}: cannot be listed ({error.strerror}); name a log folder with --log"
        ) from error
    known: set[str] = set()
    for at in range(0, len(names), _CHUNK):
        some = names[at : at + _CHUNK]
        query = select(t.sessions.c.session).where(t.sessions.c.session.in_(some))
        known.update(connection.execute(query).scalars())
    return [name for name in names if name not in known and not name.startswith(FILE)]
