"""``voicecheck resume``: go on with a session that was cut off."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.cli.completion import sessions
from voicecheck.cli.log_options import KeyFile, Url, default_key, default_log
from voicecheck.cli.outcome import tell
from voicecheck.cli.run import Listener, Model, Second, hearing_options
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
from voicecheck.session.assembly import Wanted
from voicecheck.session.places import cache_dir
from voicecheck.session.result import exit_status
from voicecheck.session.resume import resume as resume_session
from voicecheck.session.settings import load_settings


def resume(
    session: Annotated[
        str,
        typer.Argument(
            help="Session id, the beginning of one, or latest.", autocompletion=sessions
        ),
    ] = "latest",
    from_: Annotated[
        Path | None, typer.Option("--from", metavar="FILE.wav", help="Listen to a recording.")
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
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON result on standard output; text on error.")
    ] = False,
) -> None:
    """Go on at the item where a session was cut off, and read back what stands.

    Timed lights that were running are to be repeated. Exit status as for `run`.
    """
    require_one_source(from_, microphone)
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
    wanted = Wanted(
        from_,
        microphone or settings.microphone,
        cockpit,
        hearing_options(listener, model, second_listener),
        spoken,
        recording_options(settings, live=live, record=record, folder=recordings, log=folder),
    )
    with typed_keys(cockpit, on_screen=screens.terminal) as typed:
        finished = run_on(
            screens,
            ConsoleDisplay(console),
            folder,
            lambda display, touches: resume_session(
                folder,
                session,
                wanted,
                cache_dir(),
                display,
                typed,
                touches,
                database=database,
                key=key or default_key(),
            ),
        )
    tell(finished, console, as_json=as_json)
    raise typer.Exit(exit_status(finished.summary))
