"""What `run` and `resume` share: the options of a session, and its course on the screens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from rich.console import Console

from voicecheck.caution import CAUTION
from voicecheck.cli.log_options import KeyFile, Url, default_key, default_log
from voicecheck.cli.outcome import tell
from voicecheck.cli.screen import print_line, session_screen
from voicecheck.cli.screens import Screens, run_on
from voicecheck.cli.sound import Cockpit, Keeping, Listeners, Prompts, typed_keys
from voicecheck.display.console import ConsoleDisplay
from voicecheck.session.assembly import Wanted
from voicecheck.session.display import Display
from voicecheck.session.keyboard import Keys
from voicecheck.session.options import LogOptions
from voicecheck.session.result import exit_status
from voicecheck.session.run import Finished
from voicecheck.session.settings import load_settings
from voicecheck.session.touches import Touches

LogFolder = Annotated[
    Path | None,
    typer.Option(envvar="VOICECHECK_LOG", help="Log folder; default: the user's state files."),
]
ResultAsJson = Annotated[
    bool, typer.Option("--json", help="One JSON result on standard output; text on error.")
]
Work = Callable[[Wanted, LogOptions, Display, Keys | None, Touches], Finished]


@dataclass(frozen=True, slots=True)
class Heard:
    """How a session hears, and where its log is."""

    cockpit: Cockpit
    listeners: Listeners
    log: LogFolder = None


@dataclass(frozen=True, slots=True)
class Given:
    """What a session gives out: prompts, pictures, recordings, and its record."""

    prompts: Prompts
    keeping: Keeping
    screens: Screens
    database: Url = None
    key: KeyFile = None


def begin(heard: Heard, given: Given, *, as_json: bool) -> Console:
    """The screen of a session, with the caution. Raises VoicecheckError before it is there."""
    heard.cockpit.require_one_source()
    given.screens.check()
    console = session_screen(as_json=as_json, live=heard.cockpit.live)
    print_line(CAUTION, console)
    return console


def go(
    heard: Heard,
    given: Given,
    console: Console,
    work: Work,
    *,
    as_json: bool,
    verbose: bool = False,
) -> NoReturn:
    """Do the work of a session, tell its result, and exit with its status."""
    settings = load_settings()
    live = heard.cockpit.live
    log = LogOptions(heard.log or default_log(), given.database, given.key or default_key())
    wanted = Wanted(
        heard.cockpit.from_,
        (heard.cockpit.microphone or settings.microphone) if live else None,
        heard.cockpit.options(settings),
        heard.listeners.options(),
        given.prompts.options(settings, heard.cockpit.loudspeaker),
        given.keeping.options(settings, log.folder, live=live),
    )
    with typed_keys(wanted.cockpit, on_screen=given.screens.terminal) as typed:
        finished = run_on(
            given.screens,
            ConsoleDisplay(console, verbose=verbose),
            log.folder,
            lambda display, touches: work(wanted, log, display, typed, touches),
        )
    tell(finished, console, as_json=as_json)
    raise typer.Exit(exit_status(finished.summary))
