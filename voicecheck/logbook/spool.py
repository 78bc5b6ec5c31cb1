"""What still has to be filed: one empty file per session, there before anything can go wrong.

The session itself lies in its folder. Its name is put in the spool when it begins and taken out
once the database has it for good, so no crash and no absence of the database can lose it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError
from voicecheck.journal.storage import make_private, sync_folder

SPOOL: Final = ".spool"


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


def filed(log: Path, session: str) -> None:
    """Take a name out: the database has the session."""
    (log / SPOOL / session).unlink(missing_ok=True)
