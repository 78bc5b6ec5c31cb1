"""The page of every command, from the help that each one gives (``make docs``)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import typer

from page_file import write_named, write_page
from voicecheck.caution import CAUTION
from voicecheck.cli import app

WIDTH: Final = 96
"""Columns of the page."""


def page() -> str:
    """The page as Markdown."""
    root: Any = typer.main.get_command(app)
    return "\n".join(_lines(root)) + "\n"


def _lines(root: Any) -> Iterator[str]:
    yield "# Commands"
    yield ""
    yield "Written by `make docs` from the commands themselves; `voicecheck COMMAND --help` says"
    yield "the same."
    yield ""
    yield f"> **Caution.** {CAUTION}"
    yield ""
    yield "For completion by the Tab key in bash, zsh, fish or PowerShell, say once"
    yield "`voicecheck --install-completion` and open a new terminal. It completes commands,"
    yield "options, shipped checklists, registrations and sessions."
    yield ""
    yield from _section(root, ("voicecheck",), root.context_settings)
    for path, command in _walk(root, ("voicecheck",)):
        yield ""
        yield from _section(command, path, root.context_settings)


def _section(command: Any, path: tuple[str, ...], settings: dict[str, Any]) -> Iterator[str]:
    """settings: of the root's context; at a terminal every command inherits them from it."""
    context = command.make_context(
        " ".join(path),
        [],
        resilient_parsing=True,
        **{**settings, "terminal_width": WIDTH, "max_content_width": WIDTH},
    )
    yield f"## {' '.join(path)}"
    yield ""
    yield "```text"
    yield from (line.rstrip() for line in context.get_help().splitlines())
    yield "```"


def _walk(command: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    for name, inner in getattr(command, "commands", {}).items():
        yield (*path, name), inner
        yield from _walk(inner, (*path, name))


def write(path: Path) -> None:
    """Write the page. Raises VoicecheckError when that cannot be done."""
    write_page(path, page())


if __name__ == "__main__":
    write_named(write)
