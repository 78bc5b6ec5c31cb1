"""The folder of one session, and its name."""

from __future__ import annotations

import re
import secrets
import unicodedata
from datetime import datetime
from pathlib import Path

from voicecheck.errors import VoicecheckError


def session_id(started: datetime, registration: str) -> str:
    """For instance 20261125T061500Z-ZZ-HAA-4f2a: start in UTC, airframe, four random digits."""
    plain = unicodedata.normalize("NFKD", registration).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")[:30] or "airframe"
    return f"{started:%Y%m%dT%H%M%SZ}-{slug}-{secrets.token_hex(2)}"


def free_id(log: Path, started: datetime, registration: str) -> str:
    """One that no session of this log has: the same recording, played again, has its start."""
    while (log / (found := session_id(started, registration))).exists():
        pass
    return found


def make_folder(log: Path, name: str) -> Path:
    """Create the session's folder, private to the user. Raises VoicecheckError."""
    folder = log / name
    try:
        log.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.mkdir(mode=0o700)
    except OSError as error:
        reason = error.strerror or str(error)
        raise VoicecheckError(
            f"{log}: the log cannot be written ({reason}); choose another folder with --log"
        ) from None
    return folder
