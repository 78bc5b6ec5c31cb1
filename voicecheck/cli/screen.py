"""Where a command speaks: lines on the screen, and results as JSON."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

from rich.console import Console
from rich.text import Text

from voicecheck.errors import VoicecheckError


def session_screen(*, as_json: bool, live: bool) -> Console:
    """Standard output or, where that holds the JSON result, standard error.

    Live, the sound libraries have descriptor 2 shut for moments at a time, so that their chatter
    stays out of the screen (audio.portaudio); what the crew is told goes round that.
    """
    if as_json and live:
        way_round = os.fdopen(os.dup(2), "w", encoding="utf-8", buffering=1)
        return Console(file=way_round, highlight=False)
    return Console(stderr=as_json, highlight=False)


def print_line(text: str, screen: Console | None = None, style: str = "") -> None:
    """One line as it is, whatever signs it has, on `screen` or else on standard output."""
    (screen or Console(highlight=False)).print(Text(text, style), soft_wrap=True)


def write_text(path: Path, text: str, remedy: str) -> None:
    """Write a file that the user named. Raises VoicecheckError with the remedy."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise VoicecheckError(f"{path}: cannot be written ({error.strerror}); {remedy}") from error


def print_json(result: object) -> None:
    """A result for a program to read, on standard output."""
    json.dump(result, sys.stdout, ensure_ascii=False, indent=2)
    sys.stdout.write("\n")
