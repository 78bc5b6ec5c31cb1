"""``voicecheck run``: one checklist, by voice."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from voicecheck.cli.completion import checklists, registrations
from voicecheck.cli.groups import grouped
from voicecheck.cli.whole_session import Given, Heard, ResultAsJson, begin, go
from voicecheck.errors import VoicecheckError
from voicecheck.session.assembly import Wanted
from voicecheck.session.display import Display
from voicecheck.session.keyboard import Keys
from voicecheck.session.options import LogOptions, RunOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.run import Finished
from voicecheck.session.run import run as run_session
from voicecheck.session.touches import Touches


@dataclass(frozen=True, slots=True)
class About:
    """What the record says of a session besides what is called, and a mixdown of it."""

    pilot: Annotated[str | None, typer.Option(help="Name of the pilot, for the record.")] = None
    second: Annotated[str | None, typer.Option(help="Name of the second crew member.")] = None
    temperature: Annotated[
        float | None,
        typer.Option(metavar="C", min=-90, max=60, help="Outside air in °C, for the record."),
    ] = None
    recorded_at: Annotated[
        str | None,
        typer.Option(
            metavar="TIME",
            help="With --from: when it was recorded, RFC 3339 or a day. Default: what the file, "
            "its name, or the .json beside it says.",
            show_default=False,
        ),
    ] = None
    mixdown: Annotated[
        Path | None,
        typer.Option(metavar="OUT.wav", help="With --from: write crew and prompts together."),
    ] = None


@grouped
def run(
    checklist: Annotated[
        str, typer.Argument(help="A type file (YAML), or a shipped id.", autocompletion=checklists)
    ],
    *,
    airframe: Annotated[
        str,
        typer.Option(
            metavar="REG",
            help="Registration of the airframe (always needed).",
            autocompletion=registrations,
            show_default=False,
        ),
    ] = "",
    heard: Heard,
    about: About,
    given: Given,
    verbose: Annotated[bool, typer.Option(help="Show every recorded result.")] = False,
    as_json: ResultAsJson = False,
) -> None:
    """Run a warning-system test by voice, from a microphone or a recording.

    Exit status: 0 all satisfactory or not fitted, 1 findings, 2 usage or bad input,
    3 not everything was tested, with findings or without.
    """
    if about.mixdown is not None and heard.cockpit.live:
        raise VoicecheckError("--mixdown goes with --from FILE.wav; add it or leave --mixdown out")

    if about.recorded_at is not None and heard.cockpit.live:
        raise VoicecheckError("--recorded-at goes with --from FILE.wav; leave it out")

    def work(
        wanted: Wanted, log: LogOptions, display: Display, keys: Keys | None, touches: Touches
    ) -> Finished:
        options = RunOptions(
            checklist=checklist,
            airframe=airframe,
            log=log.folder,
            wav=wanted.wav,
            microphone=wanted.microphone,
            cockpit=wanted.cockpit,
            recording=wanted.recording,
            pilot=about.pilot,
            second=about.second,
            mixdown=about.mixdown,
            recorded_at=about.recorded_at,
            database=log.database,
            key=log.key,
            temperature_c=about.temperature,
            hearing=wanted.hearing,
            voice=wanted.voice,
        )
        return run_session(options, cache_dir(), display, keys, touches)

    console = begin(heard, given, as_json=as_json)
    go(heard, given, console, work, as_json=as_json, verbose=verbose)
