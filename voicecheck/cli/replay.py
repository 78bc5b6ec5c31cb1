"""``voicecheck replay``: decide a recorded session again from its journal."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from voicecheck.cli.outcome import heading
from voicecheck.cli.screen import print_json, print_line
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
        print_json(replayed.summary)
    print_line(f"{replayed.events} events replayed; every effect is as recorded", screen)
    if replayed.summary is None:
        print_line("the session is unfinished: `voicecheck resume` goes on with it", screen)
        raise typer.Exit(3)
    with speaking(replayed.words):
        print_line(heading(replayed.summary), screen)
        print_line(say("caution"), screen)
    raise typer.Exit(exit_status(replayed.summary))
