"""Writing a page of docs/ (``make docs``): one way for all of them."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from voicecheck.errors import VoicecheckError


def write_page(path: Path, text: str, *, folder: bool = False) -> None:
    """Write the page. folder: make its folder too. Raises VoicecheckError when it cannot."""
    try:
        if folder:
            path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise VoicecheckError(
            f"{path}: cannot be written ({error.strerror}); check its folder and rights"
        ) from None


def write_named(write: Callable[[Path], None]) -> None:
    """Write to the one file that the command line names; end with one line where it cannot."""
    if len(sys.argv) != 2:
        sys.exit(f"usage: python {sys.argv[0]} FILE")
    try:
        write(Path(sys.argv[1]))
    except VoicecheckError as error:
        sys.exit(str(error))
