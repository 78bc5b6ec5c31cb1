"""``voicecheck replay``: decide a recorded session again from its journal."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from voicecheck.caution import CAUTION
from voicecheck.cli.outcome import heading
from voicecheck.cli.screen import print_json, say
from voicecheck.session.replay import replay as replay_journal
from voicecheck.session.result import exit_status


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
    say(f"{replayed.events} events replayed; every effect is as recorded", screen)
    if replayed.summary is None:
        say("the session is unfinished: `voicecheck resume` goes on with it", screen)
        raise typer.Exit(3)
    say(heading(replayed.summary), screen)
    say(CAUTION, screen)
    raise typer.Exit(exit_status(replayed.summary))
