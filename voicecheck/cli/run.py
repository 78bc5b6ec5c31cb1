"""``voicecheck run``: one checklist, by voice."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.cli.completion import checklists, registrations
from voicecheck.cli.log_options import KeyFile, Url, default_key, default_log
from voicecheck.cli.outcome import tell
from voicecheck.cli.screen import session_screen
from voicecheck.cli.screens import (
    DEFAULT_PORT,
    Address,
    OnPage,
    OnScreen,
    Pair,
    Port,
    Screens,
    Stay,
    run_on,
)
from voicecheck.cli.sound import (
    ChannelCount,
    Deaf,
    Headset,
    KeysWanted,
    Loudspeaker,
    Microphone,
    Mute,
    Pace,
    Recordings,
    RecordWanted,
    TalkKeyWanted,
    Terse,
    Tones,
    VoiceName,
    Volume,
    cockpit_options,
    recording_options,
    require_one_source,
    typed_keys,
    voice_options,
)
from voicecheck.display.console import ConsoleDisplay
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import HearingOptions, RunOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.result import exit_status
from voicecheck.session.run import run as run_session
from voicecheck.session.settings import load_settings

Listener = Annotated[str, typer.Option(metavar="pocketsphinx|vosk", help="The streaming listener.")]
Model = Annotated[
    Path | None,
    typer.Option(metavar="DIR", help="Folder of a Vosk model, or its name (--listener vosk)."),
]
Second = Annotated[
    str,
    typer.Option(
        "--second-listener",
        metavar="auto|whisper|off|DIR",
        help="The scoring listener: the packaged Moonshine or Whisper weights, none, or a folder "
        "with a model of either kind.",
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
    checklist: Annotated[
        str, typer.Argument(help="A type file (YAML), or a shipped id.", autocompletion=checklists)
    ],
    airframe: Annotated[
        str,
        typer.Option(
            metavar="REG",
            help="Registration of the airframe (always needed).",
            autocompletion=registrations,
            show_default=False,
        ),
    ] = "",
    from_: Annotated[
        Path | None,
        typer.Option("--from", metavar="FILE.wav", help="Listen to a recording."),
    ] = None,
    microphone: Microphone = None,
    loudspeaker: Loudspeaker = None,
    headset: Headset = None,
    channels: ChannelCount = None,
    talk_key: TalkKeyWanted = None,
    keys: KeysWanted = None,
    deaf: Deaf = False,
    listener: Listener = "pocketsphinx",
    model: Model = None,
    second_listener: Second = "auto",
    log: Annotated[
        Path | None,
        typer.Option(envvar="VOICECHECK_LOG", help="Log folder; default: the user's state files."),
    ] = None,
    pilot: Annotated[str | None, typer.Option(help="Name of the pilot, for the record.")] = None,
    second: Annotated[str | None, typer.Option(help="Name of the second crew member.")] = None,
    temperature: Annotated[
        float | None,
        typer.Option(metavar="C", min=-90, max=60, help="Outside air in °C, for the record."),
    ] = None,
    mixdown: Annotated[
        Path | None,
        typer.Option(metavar="OUT.wav", help="With --from: write crew and prompts together."),
    ] = None,
    mute: Mute = False,
    rate: Pace = None,
    volume: Volume = None,
    voice: VoiceName = None,
    terse: Terse = None,
    tones: Tones = None,
    record: RecordWanted = None,
    recordings: Recordings = None,
    kneeboard: OnPage = False,
    screen: OnScreen = False,
    address: Address = None,
    port: Port = DEFAULT_PORT,
    pair: Pair = False,
    stay: Stay = False,
    database: Url = None,
    key: KeyFile = None,
    verbose: Annotated[bool, typer.Option(help="Show every recorded result.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON result on standard output; text on error.")
    ] = False,
) -> None:
    """Run a warning-system test by voice, from a microphone or a recording.

    Exit status: 0 all satisfactory or not fitted, 1 findings, 2 usage or bad input,
    3 not everything was tested, with findings or without.
    """
    require_one_source(from_, microphone)
    if mixdown is not None and from_ is None:
        raise VoicecheckError("--mixdown goes with --from FILE.wav; add it or leave --mixdown out")
    screens = Screens(kneeboard, screen, address, port, pair, stay)
    console = session_screen(as_json=as_json, live=from_ is None)
    console.print(Text(CAUTION), soft_wrap=True)
    live = from_ is None
    settings = load_settings()
    cockpit = cockpit_options(
        settings,
        live=live,
        headset=headset,
        channels=channels,
        talk_key=talk_key,
        keys=keys,
        deaf=deaf,
    )
    spoken = voice_options(
        settings,
        mute=mute,
        rate=rate,
        volume=volume,
        voice=voice,
        terse=terse,
        tones=tones,
        loudspeaker=loudspeaker,
    )
    folder = log or default_log()
    options = RunOptions(
        checklist=checklist,
        airframe=airframe,
        log=folder,
        wav=from_,
        microphone=(microphone or settings.microphone) if live else None,
        cockpit=cockpit,
        recording=recording_options(
            settings, live=live, record=record, folder=recordings, log=folder
        ),
        pilot=pilot,
        second=second,
        mixdown=mixdown,
        database=database,
        key=key or default_key(),
        temperature_c=temperature,
        hearing=hearing_options(listener, model, second_listener),
        voice=spoken,
    )
    with typed_keys(cockpit, on_screen=screens.terminal) as typed:
        finished = run_on(
            screens,
            ConsoleDisplay(console, verbose=verbose),
            options.log,
            lambda display, touches: run_session(options, cache_dir(), display, typed, touches),
        )
    tell(finished, console, as_json=as_json)
    raise typer.Exit(exit_status(finished.summary))
