"""At the end of a session: its files, its signature, and its place in the logbook.

The journal is on the disk already and the session's name in the spool, so nothing here can lose
it; what fails is told and done again by the next session or by `voicecheck log deliver`.
"""

from __future__ import annotations

import json
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.logbook.captions import captions
from voicecheck.logbook.filing import CAPTIONS, REPORT, TRANSCRIPT, file_text
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import Session
from voicecheck.logbook.sessions import load as load_session
from voicecheck.logbook.signing import SIGNATURE, Signer, signer_from
from voicecheck.logbook.transcript import transcript
from voicecheck.session.display import Display
from voicecheck.words import say

SUMMARY: Final = "summary.json"


def file_outputs(
    folder: Path, summary: dict[str, Any], left: bytes, display: Display
) -> tuple[Path, ...]:
    """Write summary, transcript, captions and report beside the journal; what fails is told.

    Returns those of them that were written.
    """
    if left:
        display.notice(_rescue(folder, left))
        return ()
    written: list[Path] = []

    def write(name: str, content: str) -> None:
        file_text(folder / name, content)
        written.append(folder / name)

    text = json.dumps(summary, ensure_ascii=False, indent=2) + "\n"
    try:
        write(SUMMARY, text)
        session = load_session(folder)
        write(TRANSCRIPT, transcript(session))
        write(CAPTIONS, captions(session))
        write(REPORT, report(session))
    except (VoicecheckError, OSError) as error:
        display.notice(say("notice-not-written", why=error, session=folder.name))
    return tuple(written)


def file_session(
    folder: Path, url: str | None, key: Path | None, display: Display
) -> tuple[Path, ...]:
    """Sign the journal, file what waits, and add what the logbook knows to the report.

    Returns the report where it was written with that.
    """
    try:
        session = load_session(folder)
        signer = signer_from(key) if key is not None else None
        if signer is not None:
            found = session.journal.verification
            text = signer.sign_head(session.id, found.lines, found.head)
            file_text(folder / SIGNATURE, text + "\n")
        return (_deliver(session, url, signer, display),)
    except (VoicecheckError, OSError) as error:
        display.notice(say("notice-not-filed", why=error))
    return ()


def _deliver(session: Session, url: str | None, signer: Signer | None, display: Display) -> Path:
    from voicecheck.logbook.store.database import open_database  # late: see session.from_log
    from voicecheck.logbook.store.delivery import deliver
    from voicecheck.logbook.store.looking import context_of

    log = session.folder.parent
    database = open_database(url, log)
    try:
        delivery = deliver(log, database, signer.sign_entry if signer is not None else None)
        for name, why in delivery.waiting:
            display.notice(say("notice-waits", session=name, why=why))
        with database.reading() as connection:
            airframe = session.journal.header.airframe
            context = context_of(connection, airframe, datetime.now(UTC), session.id)
    finally:
        database.close()
    path = session.folder / REPORT
    file_text(path, report(session, context))
    return path


def _rescue(folder: Path, left: bytes) -> str:
    """Put journal lines that the disk of the log refused in the system's temporary folder."""
    try:
        with tempfile.NamedTemporaryFile(
            prefix=f"{folder.name}-", suffix=".jsonl", delete=False
        ) as file:
            file.write(left)
    except OSError as error:
        print(left.decode("utf-8"), file=sys.stderr)
        return say("notice-lines-lost", why=error)
    return say("notice-lines-kept", file=file.name, journal=folder / JOURNAL)
