"""``voicecheck replay``: decide a recorded session again from its journal."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.cli.outcome import heading
from voicecheck.session.replay import replay as replay_journal
from voicecheck.session.result import exit_status
from voicecheck.words import say, speaking


def replay(
    journal: Annotated[Path, typer.Argument(help="A journal.jsonl, or its session folder.")],
    as_json: Annotated[
        bool, typer.Option("--json", help="The session's result on standard output.")
    ] = False,
) -> None:
    """Feed a journal's events to a fresh engine and compare every decision with the record.

    Exit status: that of the session; 2 when a decision differs from the record.
    """
    screen = Console(stderr=as_json, highlight=False)
    replayed = replay_journal(journal)
    if as_json:
        json.dump(replayed.summary, sys.stdout, ensure_ascii=False, indent=2)
        sys.stdout.write("\n")
    screen.print(Text(f"{replayed.events} events replayed; every effect is as recorded"))
    if replayed.summary is None:
        screen.print(Text("the session is unfinished: `voicecheck resume` goes on with it"))
        raise typer.Exit(3)
    with speaking(replayed.words):
        screen.print(Text(heading(replayed.summary)))
        screen.print(Text(say("caution")), soft_wrap=True)
    raise typer.Exit(exit_status(replayed.summary))
