"""What the Tab key offers: checklists, registrations, sessions. Never an error, never a trace."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import typer

from voicecheck.checklist.loader import find_type_file, read_airframes, read_type
from voicecheck.cli.log_options import default_log
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.shipped import checklists_dir


def _quietly(found: Callable[[], list[str]], incomplete: str) -> list[str]:
    try:
        names = found()
    except (VoicecheckError, OSError):
        return []
    wanted = incomplete.casefold()
    return sorted(name for name in names if name.casefold().startswith(wanted))


def checklists(incomplete: str) -> list[str]:
    """Shipped ids; the shell adds files by itself when none fits."""
    return _quietly(lambda: [path.stem for path in checklists_dir().glob("*.yaml")], incomplete)


def registrations(ctx: typer.Context, args: list[str], incomplete: str) -> list[str]:
    """The airframes of the type that is already on the line, else of every shipped one."""

    def found() -> list[str]:
        shipped = checklists_dir()
        every = list(shipped.glob("*.yaml"))
        ids = {path.stem for path in every}
        # An option that still lacks its value keeps the line from being parsed.
        words = [str(ctx.params.get("checklist") or ""), *args, *ctx.args]
        named = [word for word in words if word in ids or word.endswith((".yaml", ".yml"))]
        files = [find_type_file(named[0], shipped)] if named else every
        return [
            registration
            for path in files
            for registration in read_airframes(path, read_type(path)[0].id)
        ]

    return _quietly(found, incomplete)


def sessions(ctx: typer.Context, incomplete: str) -> list[str]:
    """The sessions of the log folder."""

    def found() -> list[str]:
        folder = Path(ctx.params.get("log") or default_log())
        return ["latest", *(path.parent.name for path in folder.glob(f"*/{JOURNAL}"))]

    return _quietly(found, incomplete)
