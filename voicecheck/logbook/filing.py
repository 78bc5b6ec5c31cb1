"""Writing what is made from a journal: private files, each whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

REPORT: Final = "report.html"
TRANSCRIPT: Final = "transcript.txt"
CAPTIONS: Final = "transcript.vtt"


def derived_files(folder: Path) -> list[Path]:
    """The files that are made from the journal in `folder` and can be made again."""
    return [folder / name for name in (REPORT, TRANSCRIPT, CAPTIONS)]


def file_text(path: Path, content: str | bytes) -> None:
    """Put `content` (text as UTF-8) at `path` with mode 0600, replacing what stood there.

    A reader sees the old file or the new one, never a part. Raises VoicecheckError.
    """
    temporary: Path | None = None
    try:
        fd, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        temporary = Path(name)
        with os.fdopen(fd, "wb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
            file.flush()
            os.fsync(fd)
        temporary.replace(path)
    except OSError as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise VoicecheckError(
            f"{path}: cannot be written ({error.strerror}); name another place with --out"
        ) from error
