"""Sessions by name: from the log folder and the logbook, and from the folder alone if need be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from voicecheck.cli.log_options import Book, notice
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.logbook.filed import Listed
from voicecheck.logbook.sessions import LATEST, Session, Unreadable, find, is_broken, sessions

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from voicecheck.logbook.context import Context

Entry = Session | Unreadable | Listed


def entries_of(book: Book, airframe: str | None, limit: int | None) -> Sequence[Entry]:
    """From the logbook, and what could not be filed from its folder; else from the folder alone."""
    from voicecheck.logbook.store.database import DatabaseAway
    from voicecheck.logbook.store.delivery import unknown
    from voicecheck.logbook.store.reading import known, listed

    if not book.there:
        return []
    try:
        with book.reading() as connection:
            here = [] if airframe else list(unknown(book.folder, connection))
            found: list[Entry] = []
            if airframe is None or known(connection, airframe):
                found += listed(connection, airframe, limit)
        return [*found, *sessions(book.folder, here)] if here else found
    except DatabaseAway as error:
        notice(f"{error}; listing the log folder alone")
        return [entry for entry in sessions(book.folder) if _is_of(entry, airframe)][:limit]


def _is_of(entry: Session | Unreadable, airframe: str | None) -> bool:
    if airframe is None:
        return True
    return isinstance(entry, Session) and entry.journal.header.airframe == airframe


def find_session(book: Book, wanted: str) -> tuple[Session, Context | None]:
    """A session from the log folder, else from the logbook, and what the logbook knows besides.

    Without a logbook that answers, the folder alone must do, and the user is told. Raises
    VoicecheckError; where neither has it, what was wrong with the folder's.
    """
    from voicecheck.logbook.store.database import DatabaseAway

    try:
        local = find(book.folder, wanted)
    except VoicecheckError as problem:
        if not book.there:
            raise
        return _from_logbook(book, wanted, problem)
    try:
        with book.reading() as connection:
            if not is_broken(local):
                local = _as_filed(connection, local)
            return local, _context(connection, local)
    except DatabaseAway as error:
        notice(str(error))
        return local, None


def _from_logbook(
    book: Book, wanted: str, problem: VoicecheckError
) -> tuple[Session, Context | None]:
    """One that only the logbook has. problem: why the log folder does not."""
    from voicecheck.logbook.store.reading import find_session as filed
    from voicecheck.logbook.store.reading import session_from

    if wanted != LATEST and not wanted.replace("-", "").isalnum():
        raise problem
    try:
        with book.reading() as connection:
            found = session_from(connection, filed(connection, wanted))
            return found, _context(connection, found)
    except VoicecheckError as error:
        raise problem from error


def _context(connection: Connection, session: Session) -> Context | None:
    from voicecheck.logbook.store.looking import context_of
    from voicecheck.logbook.store.reading import known

    airframe = session.journal.header.airframe
    if not known(connection, airframe):
        return None
    return context_of(connection, airframe, datetime.now(UTC), session.id)


def _as_filed(connection: Connection, local: Session) -> Session:
    """The session as filed, where the one in the log folder is another; the user is told."""
    from voicecheck.logbook.store.audit import against_anchor
    from voicecheck.logbook.store.reading import find_session, session_from

    try:
        against_anchor(connection, local.id, local.folder / JOURNAL)
    except VoicecheckError as error:
        notice(f"{error}; what follows is the filed one")
        filed = session_from(connection, find_session(connection, local.id))
        return replace(filed, folder=local.folder)
    return local
