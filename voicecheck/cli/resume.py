"""``voicecheck resume``: go on with a session that was cut off."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.cli.log_options import KeyFile, Url, default_key, default_log
from voicecheck.cli.outcome import tell
from voicecheck.cli.run import Headset, Listener, Model, Second, hearing_options
from voicecheck.display.console import ConsoleDisplay
from voicecheck.session.options import VoiceOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.result import exit_status
from voicecheck.session.resume import resume as resume_session


def resume(
    session: Annotated[
        str, typer.Argument(help="Session id, the beginning of one, or latest.")
    ] = "latest",
    from_: Annotated[
        Path | None, typer.Option("--from", metavar="FILE.wav", help="Listen to a recording.")
    ] = None,
    microphone: Annotated[
        str | None, typer.Option(metavar="NAME", help="Number, name or part of a name.")
    ] = None,
    headset: Headset = False,
    listener: Listener = "pocketsphinx",
    model: Model = None,
    second_listener: Second = "auto",
    log: Annotated[
        Path | None,
        typer.Option(envvar="VOICECHECK_LOG", help="Log folder; default: the user's state files."),
    ] = None,
    database: Url = None,
    key: KeyFile = None,
    mute: Annotated[bool, typer.Option(help="Show prompts, speak none.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON result on standard output; text on error.")
    ] = False,
) -> None:
    """Go on at the item where a session was cut off, and read back what stands.

    Timed lights that were running are to be repeated. Exit status as for `run`.
    """
    screen = Console(stderr=as_json, highlight=False)
    screen.print(Text(CAUTION), soft_wrap=True)
    finished = resume_session(
        log or default_log(),
        session,
        wav=from_,
        microphone=microphone,
        headset=headset,
        hearing=hearing_options(listener, model, second_listener),
        voice=VoiceOptions(speak=not mute),
        cache=cache_dir(),
        display=ConsoleDisplay(screen),
        database=database,
        key=key or default_key(),
    )
    tell(finished, screen, as_json=as_json)
    raise typer.Exit(exit_status(finished.summary))
