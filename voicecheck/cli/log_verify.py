"""`voicecheck log verify`: prove that journals, and the logbook, are as they were written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicecheck.cli.groups import grouped
from voicecheck.cli.log_options import Book, Exit, told
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.reader import State, Verification, verify
from voicecheck.logbook.integrity import verify_session, words
from voicecheck.logbook.sessions import Session, Unreadable, find, sessions
from voicecheck.logbook.signing import SIGNATURE, check_head
from voicecheck.logbook.wording import clean

if TYPE_CHECKING:
    from voicecheck.logbook.store.database import Database


@grouped
def verify_(
    what: Annotated[
        str | None, typer.Argument(metavar="[SESSION|FILE]", help="A session or a journal file.")
    ] = None,
    *,
    book: Book,
    every: Annotated[
        bool, typer.Option("--all", help="Every session in the log, and the whole logbook.")
    ] = False,
    signed_by: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY", help="Public key that must have signed; may be repeated."),
    ] = None,
) -> None:
    """Prove that journals are as they were written.

    Exit status: 0 whole, 1 chain broken, 2 bad usage, 3 not broken but unfinished.
    """
    with told():
        if (what is None) == (not every):
            raise VoicecheckError("name one session or journal file, or use --all")
        keys = frozenset(signed_by or ())
        if what is not None and ("/" in what or what.endswith(".jsonl")):
            if keys:
                raise VoicecheckError(
                    "--signed-by goes with a session or --all: a signature stands beside the "
                    "journal; name the session, and its log with --log"
                )
            status = _tell(what, verify(Path(what)), "")
        else:
            book.require()
            status = _in_log(book, what, keys)
    raise typer.Exit(status)


def _in_log(book: Book, what: str | None, keys: frozenset[str]) -> Exit:
    """What was asked for, or all, held against the logbook where there is one."""
    database = _logbook_of(book, needed=what is None)
    try:
        if what is not None:
            return _session(find(book.folder, what), database, keys)
        entries = sessions(book.folder)
        if not entries and database is None:
            raise VoicecheckError(f"{book.folder}: no session there; name a log with --log")
        worst = Exit.GOOD
        for entry in entries:
            worst = _worse(worst, _entry(entry, database, keys))
        return _worse(worst, _logbook(database, keys)) if database is not None else worst
    finally:
        if database is not None:
            database.close()


def _logbook_of(book: Book, *, needed: bool) -> Database | None:
    """The logbook, if there is one; where it is not needed it may also be away."""
    from voicecheck.logbook.store.database import FILE, DatabaseAway, open_database

    if book.database is None and not (book.folder / FILE).exists():
        return None
    try:
        return open_database(book.database, book.folder)
    except DatabaseAway as error:
        if needed:
            raise
        print(clean(f"logbook: not held against it: {error}"))
        return None


def _entry(entry: Session | Unreadable, database: Database | None, keys: frozenset[str]) -> Exit:
    if isinstance(entry, Session):
        return _session(entry, database, keys)
    print(clean(f"{entry.id}: cannot be read: {entry.problem}"))
    return Exit.BROKEN


def _session(found: Session, database: Database | None, keys: frozenset[str]) -> Exit:
    """Journal, files beside it, signature, and anchor of one session."""
    state = verify_session(found.folder)
    more = ""
    if state.intact:
        try:
            more = _signature(found, keys)
            if database is not None:
                from voicecheck.logbook.store.audit import against_anchor

                with database.reading() as connection:
                    anchored = against_anchor(connection, found.id, found.folder / JOURNAL)
                more += f"; {anchored}"
        except VoicecheckError as error:
            state = Verification(State.BROKEN, str(error), state.lines, state.lines, state.head)
    return _tell(found.id, state, more)


def _signature(found: Session, keys: frozenset[str]) -> str:
    path = found.folder / SIGNATURE
    if not path.exists() and not path.is_symlink():
        if keys:
            raise VoicecheckError("the journal is not signed")
        return ""
    text = path.read_text(encoding="utf-8", errors="replace")
    key = check_head(text, found.id, found.journal.verification)
    if keys and key not in keys:
        raise VoicecheckError(f"the journal is signed by another key, {key}")
    return f"; signed by {key}"


def _logbook(database: Database, keys: frozenset[str]) -> Exit:
    from voicecheck.logbook.store.audit import audit

    with database.reading() as connection:
        found = audit(connection, keys)
    for problem in found.problems:
        print(clean(f"logbook: {problem}"))
    if found.problems:
        return Exit.BROKEN
    print(clean(f"logbook: chain whole, {found.entries} entries, head {found.head}"))
    return Exit.GOOD


def _worse(one: Exit, other: Exit) -> Exit:
    return Exit.BROKEN if Exit.BROKEN in (one, other) else max(one, other)


def _tell(name: str, found: Verification, more: str) -> Exit:
    print(clean(f"{name}: {words(found)}{more}"))
    if found.state is State.BROKEN:
        return Exit.BROKEN
    return Exit.GOOD if found.ok else Exit.UNFINISHED
