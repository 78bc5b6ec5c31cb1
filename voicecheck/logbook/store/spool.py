"""What still has to be filed: one empty file per session, there before anything can go wrong.

The session itself lies in its folder. Its name is put in the spool when it begins and taken out
once the database has it for good, so no crash and no absence of the database can lose it.
"""

from __future__ import annotations

import fcntl
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from sqlalchemy import select

from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.storage import make_private, sync_folder
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.database import Database, DatabaseAway
from voicecheck.logbook.store.ledger import Sign
from voicecheck.logbook.store.posting import Posted, copy_of, post

SPOOL: Final = ".spool"
_CHUNK: Final = 500
"""Names asked for at once: every database takes so many values."""


@dataclass(slots=True)
class Delivery:
    """filed: sessions that the database took now. waiting: id and why it could not be filed."""

    filed: list[str] = field(default_factory=list)
    waiting: list[tuple[str, str]] = field(default_factory=list)


def expect(log: Path, session: str) -> None:
    """Put a session's name in the spool, durably. Raises VoicecheckError."""
    spool = log / SPOOL
    try:
        make_private(spool)
        os.close(os.open(spool / session, os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o600))
        sync_folder(spool)
    except OSError as error:
        raise VoicecheckError(
            f"{spool}: cannot be written ({error.strerror}); mend the folder, then "
            "`voicecheck log deliver --all`"
        ) from error


def expected(log: Path) -> list[str]:
    """The names in the spool, oldest first."""
    try:
        return sorted(path.name for path in (log / SPOOL).iterdir())
    except FileNotFoundError:
        return []


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
        if being_written(folder):
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
        (log / SPOOL / name).unlink(missing_ok=True)
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
    """Session folders that the database does not know."""
    try:
        names = sorted(path.name for path in log.iterdir() if not path.name.startswith("."))
    except FileNotFoundError:
        return []
    except OSError as error:
        raise VoicecheckError(
            f"{log}: cannot be listed ({error.strerror}); name a log folder with --log"
        ) from error
    known: set[str] = set()
    with database.reading() as connection:
        for at in range(0, len(names), _CHUNK):
            some = names[at : at + _CHUNK]
            query = select(t.sessions.c.session).where(t.sessions.c.session.in_(some))
            known.update(connection.execute(query).scalars())
    return [name for name in names if name not in known | but and (log / name / JOURNAL).is_file()]
