"""What still has to be filed: one empty file per session, there before anything can go wrong.

The session itself lies in its folder. Its name is put in the spool when it begins and taken out
once the database has it for good, so no crash and no absence of the database can lose it.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError
from voicecheck.journal.storage import make_private, sync_folder

SPOOL: Final = ".spool"
BEGINS_S: Final = 60.0
"""Seconds in which a session that has put its name here makes its journal."""


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
    """The names in the spool, oldest first. Raises VoicecheckError."""
    try:
        return sorted(path.name for path in (log / SPOOL).iterdir())
    except FileNotFoundError:
        return []
    except OSError as error:
        raise VoicecheckError(
            f"{log / SPOOL}: cannot be listed ({error.strerror}); mend the folder, then "
            "`voicecheck log deliver --all`"
        ) from error


def begins(log: Path, session: str) -> bool:
    """Whether a name was put in so lately that its journal may be about to be made."""
    try:
        put = (log / SPOOL / session).stat().st_mtime
    except OSError:
        return False
    return abs(time.time() - put) < BEGINS_S


def filed(log: Path, session: str) -> None:
    """Take a name out: the database has the session."""
    (log / SPOOL / session).unlink(missing_ok=True)
