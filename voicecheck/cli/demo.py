"""``voicecheck demo``: the main job on the embedded default, with a shipped recording."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.console import Console

from voicecheck.caution import CAUTION
from voicecheck.cli.outcome import tell
from voicecheck.cli.screen import print_line
from voicecheck.display.console import ConsoleDisplay
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import RunOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.result import exit_status
from voicecheck.session.run import run as run_session
from voicecheck.shipped import recordings_dir

RECORDING: Final = "three-findings"


def demo(
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Where log, report and mixdown are written.")
    ] = Path("out"),
) -> None:
    """Run an invented crew's recorded test and show what voicecheck makes of it.

    No microphone and no sound card are needed. Exit status 1: the recording has findings.
    """
    screen = Console(highlight=False)
    print_line(CAUTION, screen)
    wav = recordings_dir() / f"{RECORDING}.wav"
    side = json.loads(wav.with_suffix(".json").read_text(encoding="utf-8"))
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise VoicecheckError(
            f"{out}: cannot be made ({error.strerror}); choose another folder with --out"
        ) from None
    options = RunOptions(
        checklist=side["checklist"],
        airframe=side["airframe"],
        log=out / "log",
        wav=wav,
        pilot=side["crew"]["pilot"],
        second=side["crew"]["second"],
        mixdown=out / "mixdown.wav",
    )
    finished = run_session(options, cache_dir(), ConsoleDisplay(screen))
    tell(finished, screen, as_json=False)
    raise typer.Exit(exit_status(finished.summary))
