"""The sessions in a log folder: all of them, also the unfinished and the unreadable."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from voicecheck.errors import Place, VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.header import SESSION_ID
from voicecheck.journal.reader import Journal, State, read
from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.crew import Crew, Names, crew_of, names_in
from voicecheck.logbook.summary import Summary, summary_from
from voicecheck.words import Words, recorded

LATEST = "latest"
_START = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Session:
    """One session that can be read. summary is None when it is unfinished.

    folder: where it lies, or would lie if it came from the database.
    """

    folder: Path
    journal: Journal
    summary: Summary | None
    crew: Crew

    @property
    def id(self) -> str:
        """The session id, which is also the name of its folder."""
        return self.journal.header.session

    @property
    def words(self) -> Words:
        """The words in which its record was written and is to be read."""
        return recorded(self.journal.header.checklist.resolved)


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A folder among the sessions that cannot be read as one, and why."""

    folder: Path
    problem: str

    @property
    def id(self) -> str:
        """The name of the folder."""
        return self.folder.name


def sessions(log: Path, names: Collection[str] | None = None) -> list[Session | Unreadable]:
    """Every folder in `log`, newest session first, unreadable ones last.

    names: only these folders.

    A log folder that does not exist yet has no sessions. Links are not followed, so
    nothing outside the folder is ever shown as part of it. Raises VoicecheckError when
    `log` itself cannot be listed.
    """
    found = [
        _attempt(path)
        for path in _inside(log)
        if not path.name.startswith(".")
        and (names is None or path.name in names)
        and (path.is_symlink() or path.is_dir())
    ]
    return sorted(found, key=_age, reverse=True)


def find(log: Path, wanted: str) -> Session:
    """The session named by its id, the only one that begins so, or "latest".

    Raises VoicecheckError: none, several, or an unreadable one.
    """
    if wanted == LATEST:
        for entry in sessions(log):
            if isinstance(entry, Session):
                return entry
        raise VoicecheckError(f"{log}: no session there yet; run one, or name a log with --log")
    if not re.fullmatch(r"[A-Za-z0-9-]+", wanted):
        raise VoicecheckError(f"{wanted[:60]!r} is not a session id; see `log list`")
    matches = sorted(path.name for path in _inside(log) if path.name.startswith(wanted))
    if wanted in matches:
        matches = [wanted]
    if not matches:
        raise VoicecheckError(f"{log}: no session begins with {wanted}; see `log list`")
    if len(matches) > 1:
        several = ", ".join(matches[:3]) + (", ..." if len(matches) > 3 else "")
        raise VoicecheckError(f"{wanted} fits {len(matches)} sessions ({several}); give more of it")
    try:
        return load(log / matches[0])
    except OSError as error:
        raise VoicecheckError(
            f"{log / matches[0]}: cannot be read ({error.strerror}); mend its permissions"
        ) from error


def load(folder: Path) -> Session:
    """The session in `folder`. Raises VoicecheckError, and OSError from the folder itself."""
    if folder.is_symlink():
        raise VoicecheckError(f"{folder}: a link, which is not followed; copy the session instead")
    if not re.fullmatch(SESSION_ID, folder.name):
        raise VoicecheckError(f"{folder}: not named like a session; move it out of the log")
    path = folder / JOURNAL
    if not path.exists() and not path.is_symlink():
        raise VoicecheckError(f"{folder}: has no {JOURNAL}; restore it from a copy")
    return from_journal(folder, read(path), names_in(folder))


def from_journal(folder: Path, journal: Journal, beside: Names) -> Session:
    """The session of a journal that was read. Raises VoicecheckError where it is not one."""
    path = folder / JOURNAL
    if journal.header.session != folder.name:
        raise VoicecheckError(
            f"{path}:1: belongs to session {journal.header.session}; put it back in that folder"
        )
    crew = crew_of(journal.header, beside)
    return Session(folder, journal, summary_of(journal, path), crew)


def summary_of(journal: Journal, path: Path) -> Summary | None:
    """The checked summary that ends `journal`, read from `path`; None if it has none.

    Raises InputError for one that is not understood or belongs to another session.
    """
    line = journal.summary
    if line is None:
        return None
    place = Place(str(path), len(journal.lines))
    summary = summary_from(line.fields.get("summary"), place)
    header = journal.header
    if (summary.session, summary.airframe) != (header.session, header.airframe):
        raise VoicecheckError(
            f"{place}: the summary is of {summary.airframe}, session {summary.session}, the "
            "journal is not; restore it from a copy"
        )
    return summary


def is_broken(session: Session) -> bool:
    """The journal was changed after it was written: nothing in it may be relied on."""
    return session.journal.verification.state is State.BROKEN


def _inside(log: Path) -> list[Path]:
    """What stands in `log`; nothing while it does not exist. Raises VoicecheckError."""
    try:
        return list(log.iterdir())
    except FileNotFoundError:
        return []
    except OSError as error:
        raise VoicecheckError(
            f"{log}: cannot be listed ({error.strerror}); name a log folder with --log"
        ) from error


def _attempt(folder: Path) -> Session | Unreadable:
    try:
        return load(folder)
    except VoicecheckError as error:
        return Unreadable(folder, str(error))
    except OSError as error:
        return Unreadable(folder, f"{folder}: cannot be read ({error.strerror})")


def _age(entry: Session | Unreadable) -> tuple[datetime, str]:
    if isinstance(entry, Session):
        return parse(entry.journal.header.started), entry.id
    return _START, entry.id
