"""Measurements on the screen or as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from typing import Annotated, Final

import typer
from rich.box import SIMPLE
from rich.console import Console
from rich.table import Table as Screen
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.cli.screen import print_line
from voicecheck.measure.machine import this_machine
from voicecheck.measure.table import Cell, Table

SCHEMA: Final = 1
"""Version of the JSON form."""
_WIDEST: Final = 400
"""Columns of the widest table."""

AsJson = Annotated[bool, typer.Option("--json", help="One JSON result on standard output.")]


def show(tables: Iterable[Table], *, as_json: bool) -> None:
    """Print the machine, each table as soon as it is there, and the caution; or all as JSON."""
    machine = this_machine()
    if as_json:
        result = {
            "schema": SCHEMA,
            "caution": CAUTION,
            "machine": asdict(machine),
            "measurements": [table.as_json() for table in tables],
        }
        typer.echo(json.dumps(result, ensure_ascii=False, indent=2))
        return
    screen = Console(highlight=False)
    print_line(str(machine), screen)
    for table in tables:
        _print(table, screen)
    print_line(CAUTION, screen)


def _print(table: Table, screen: Console) -> None:
    drawn = Screen(title=table.title, title_justify="left", box=SIMPLE, pad_edge=False)
    for index, column in enumerate(table.columns):
        words = any(isinstance(row[index], str) for row in table.rows)
        drawn.add_column(column, justify="left" if words else "right", no_wrap=True)
    for row in table.rows:
        drawn.add_row(*map(_cell, row))
    screen.print()
    # A table that is wider than the screen is not broken up: it may be read from a file.
    wide = screen.measure(drawn, options=screen.options.update(width=_WIDEST)).maximum
    screen.width = max(screen.width, wide)
    screen.print(drawn)
    for note in table.notes:
        print_line(note, screen)


def _cell(value: Cell) -> Text:
    return Text("" if value is None else f"{value:,}" if isinstance(value, int) else str(value))
