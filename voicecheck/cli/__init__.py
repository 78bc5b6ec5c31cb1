"""The command line: one file for each command."""

from __future__ import annotations

import sys
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck import __version__
from voicecheck.caution import CAUTION
from voicecheck.cli.audio import audio
from voicecheck.cli.demo import demo
from voicecheck.cli.examples import add_examples
from voicecheck.cli.kneeboard import kneeboard
from voicecheck.cli.log import app as log_app
from voicecheck.cli.measure import app as measure_app
from voicecheck.cli.new import app as new_app
from voicecheck.cli.rehearse import rehearse
from voicecheck.cli.replay import replay
from voicecheck.cli.resume import resume
from voicecheck.cli.run import run
from voicecheck.cli.validate import validate
from voicecheck.errors import VoicecheckError

app = typer.Typer(
    name="voicecheck",
    help=f"A warning-system test run by ear and voice, offline.\n\n{CAUTION}",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command()(run)
app.command()(demo)
app.command()(validate)
app.command()(rehearse)
app.command()(replay)
app.command()(resume)
app.command()(audio)
app.command()(kneeboard)
app.add_typer(new_app, name="new")
app.add_typer(log_app, name="log")
app.add_typer(measure_app, name="measure")
add_examples(app)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(__version__)
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option("--version", help="Print the version.", callback=_version, is_eager=True),
    ] = False,
) -> None:
    """Common options."""


def main() -> None:
    """Entry point: a user's error is one line and exit status 2, never a traceback."""
    try:
        app()
    except VoicecheckError as error:
        Console(stderr=True).print(Text(f"voicecheck: {error}"), soft_wrap=True)
        sys.exit(2)
    except OSError as error:
        # A name too long to be looked up, a full disk: whatever no command has put in words.
        name = f"{str(error.filename)[:200]}: " if error.filename else ""
        told = f"voicecheck: {name}{error.strerror or error}; check the name, its folder and rights"
        Console(stderr=True).print(Text(told), soft_wrap=True)
        sys.exit(2)
    except KeyboardInterrupt:
        Console(stderr=True).print("voicecheck: stopped")
        sys.exit(130)
