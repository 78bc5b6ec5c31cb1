"""``voicecheck run``: one checklist, by voice."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.cli.log import default_log
from voicecheck.cli.outcome import tell
from voicecheck.display.console import ConsoleDisplay
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import HearingOptions, RunOptions, VoiceOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.result import exit_status
from voicecheck.session.run import run as run_session

Listener = Annotated[str, typer.Option(metavar="pocketsphinx|vosk", help="The streaming listener.")]
Model = Annotated[
    Path | None,
    typer.Option(metavar="DIR", help="Folder of a Vosk model, or its name (--listener vosk)."),
]
Second = Annotated[
    str,
    typer.Option(
        "--second-listener",
        metavar="auto|off|DIR",
        help="The scoring listener: the packaged weights, none, or a CTranslate2 Whisper folder.",
    ),
]


Headset = Annotated[
    bool,
    typer.Option(
        "--headset",
        help="Prompts cannot reach the microphone: the crew may speak while one sounds. "
        "Without it nothing is heard during a prompt.",
    ),
]


def hearing_options(listener: str, model: Path | None, second: str) -> HearingOptions:
    """Check the listeners' options. Raises VoicecheckError."""
    if listener == "pocketsphinx":
        if model is not None:
            raise VoicecheckError("--model goes with --listener vosk; leave it out")
        return HearingOptions("pocketsphinx", None, second)
    if listener == "vosk":
        if model is None:
            raise VoicecheckError(
                "--listener vosk needs --model DIR, the folder or the name of a Vosk model"
            )
        return HearingOptions("vosk", model, second)
    raise VoicecheckError(f"--listener {listener}: unknown; choose pocketsphinx or vosk")


def run(
    checklist: Annotated[str, typer.Argument(help="A type file (YAML), or a shipped id.")],
    airframe: Annotated[str, typer.Option(metavar="REG", help="Registration of the airframe.")],
    from_: Annotated[
        Path | None,
        typer.Option("--from", metavar="FILE.wav", help="Listen to a recording."),
    ] = None,
    microphone: Annotated[
        str | None, typer.Option(metavar="NAME", help="Number, name or part of a name.")
    ] = None,
    loudspeaker: Annotated[
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
    pilot: Annotated[str | None, typer.Option(help="Name of the pilot, for the record.")] = None,
    second: Annotated[str | None, typer.Option(help="Name of the second crew member.")] = None,
    mixdown: Annotated[
        Path | None,
        typer.Option(metavar="OUT.wav", help="With --from: write crew and prompts together."),
    ] = None,
    mute: Annotated[bool, typer.Option(help="Show prompts, speak none.")] = False,
    rate: Annotated[int, typer.Option(help="Words a minute of the prompts.")] = 165,
    verbose: Annotated[bool, typer.Option(help="Show every recorded result.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON result on standard output; text on error.")
    ] = False,
) -> None:
    """Run a warning-system test by voice, from a microphone or a recording.

    Exit status: 0 all satisfactory or not fitted, 1 findings, 2 usage or bad input,
    3 not everything was tested.
    """
    if from_ is not None and microphone is not None:
        raise VoicecheckError("--from and --microphone are two sources; give one of them")
    if mixdown is not None and from_ is None:
        raise VoicecheckError("--mixdown goes with --from FILE.wav")
    screen = Console(stderr=as_json, highlight=False)
    screen.print(Text(CAUTION), soft_wrap=True)
    options = RunOptions(
        checklist=checklist,
        airframe=airframe,
        log=log or default_log(),
        wav=from_,
        microphone=microphone,
        headset=headset,
        pilot=pilot,
        second=second,
        mixdown=mixdown,
        hearing=hearing_options(listener, model, second_listener),
        voice=VoiceOptions(speak=not mute, rate=rate, loudspeaker=loudspeaker),
    )
    finished = run_session(options, cache_dir(), ConsoleDisplay(screen, verbose=verbose))
    tell(finished, screen, as_json=as_json)
    raise typer.Exit(exit_status(finished.summary))
