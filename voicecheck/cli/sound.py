"""The options about sound that `run` and `resume` share: command line first, then settings."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Annotated

import typer

from voicecheck.cli.keys import TerminalKeys
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import (
    CockpitOptions,
    RecordingOptions,
    VoiceOptions,
)
from voicecheck.session.settings import Settings

Microphone = Annotated[
    str | None, typer.Option(metavar="NAME", help="Number, name or part of a name.")
]
Loudspeaker = Annotated[
    str | None, typer.Option(metavar="NAME", help="Number, name or part of a name.")
]
Headset = Annotated[
    bool | None,
    typer.Option(
        "--headset/--speaker",
        help="Headset or intercom: prompts cannot reach the microphone, so the crew may speak "
        "while one sounds. Open speaker: nothing is heard during a prompt. See `audio --echo`.",
        show_default="settings, else speaker",
    ),
]
ChannelCount = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=2,
        help="2: the pilot on the left channel, the second crew member on the right.",
        show_default="settings, else 1",
    ),
]
TalkKeyWanted = Annotated[
    bool | None,
    typer.Option(
        "--talk-key/--open-microphone",
        help="Push to talk: the space bar opens the microphone and closes it again.",
        show_default="settings, else open",
    ),
]
KeysWanted = Annotated[
    bool | None,
    typer.Option(
        "--keys/--no-keys",
        help="List the callouts with numbers that can be typed.",
        show_default="yes at a terminal",
    ),
]
Deaf = Annotated[bool, typer.Option(help="Open no microphone: callouts by key alone.")]
Mute = Annotated[bool, typer.Option(help="Show prompts, speak none.")]
Pace = Annotated[
    int | None,
    typer.Option(help="Words a minute of the prompts.", show_default="settings, else 165"),
]
Volume = Annotated[
    float | None,
    typer.Option(help="Of the prompts, up to 1.", show_default="settings, else 1"),
]
VoiceName = Annotated[
    str | None,
    typer.Option(metavar="NAME", help="An espeak voice or language, such as en-gb."),
]
Terse = Annotated[
    bool | None,
    typer.Option(
        "--terse/--full", help="Few words, none of them long.", show_default="settings, else full"
    ),
]
Tones = Annotated[
    bool | None,
    typer.Option(
        "--tones/--no-tones",
        help="Short tones for heard, not understood and warning.",
        show_default="settings, else yes",
    ),
]
RecordWanted = Annotated[
    bool | None,
    typer.Option(
        "--record/--no-record",
        help="Consent to keeping the session's sound; it is said aloud.",
        show_default="settings, else no",
    ),
]
Recordings = Annotated[
    Path | None,
    typer.Option(
        metavar="DIR", help="Where recordings go.", show_default="`recordings` beside the log"
    ),
]


def require_one_source(wav: Path | None, microphone: str | None) -> None:
    """Raise VoicecheckError where a recording and a microphone are asked for."""
    if wav is not None and microphone is not None:
        raise VoicecheckError("--from and --microphone are two sources; give one of them")


def cockpit_options(
    settings: Settings,
    *,
    live: bool,
    headset: bool | None,
    channels: int | None,
    talk_key: bool | None,
    keys: bool | None,
    deaf: bool,
) -> CockpitOptions:
    """What was asked for, or is remembered. Raises VoicecheckError for what excludes itself."""
    if not live and (keys or deaf or talk_key):
        raise VoicecheckError(
            "--keys, --deaf and --talk-key go with a live session; leave them out with --from"
        )
    if deaf and keys is False:
        raise VoicecheckError("--deaf leaves only the keys; do not give --no-keys with it")
    remembered = settings.channels if live else 1
    wanted = 2 if (channels or remembered) == 2 and not deaf else 1
    at_terminal = sys.stdin is not None and sys.stdin.isatty()
    use_keys = live and (deaf or (at_terminal if keys is None else keys))
    if use_keys and sys.stdin is None:
        raise VoicecheckError("--keys needs standard input; do not close it")
    held = live and not deaf and (settings.talk_key if talk_key is None else talk_key)
    if held and not use_keys:
        raise VoicecheckError("--talk-key needs the keys; give --keys with it")
    return CockpitOptions(
        headset=settings.cockpit == "headset" if headset is None else headset,
        echo_tail=settings.echo_tail,
        channels=2 if wanted == 2 else 1,
        talk_key=held,
        keys=use_keys,
        hear=not deaf,
    )


def voice_options(
    settings: Settings,
    *,
    mute: bool,
    rate: int | None,
    volume: float | None,
    voice: str | None,
    terse: bool | None,
    tones: bool | None,
    loudspeaker: str | None,
) -> VoiceOptions:
    """How prompts sound: as asked for, or as remembered."""
    wording = settings.wording if terse is None else "terse" if terse else "full"
    return VoiceOptions(
        speak=not mute,
        rate=settings.rate if rate is None else rate,
        voice=voice or settings.voice,
        volume=settings.volume if volume is None else volume,
        loudspeaker=loudspeaker or settings.loudspeaker,
        wording=wording,
        tones=settings.tones if tones is None else tones,
    )


def recording_options(
    settings: Settings, *, live: bool, record: bool | None, folder: Path | None, log: Path
) -> RecordingOptions | None:
    """Where the sound is kept, if the crew has consented; None otherwise.

    Raises VoicecheckError for a folder without consent: nobody shall believe to be recorded.
    """
    if record and not live:
        raise VoicecheckError("--record goes with a live session; leave it out with --from")
    if not live or not (settings.record if record is None else record):
        if folder is not None:
            raise VoicecheckError("--recordings goes with --record; add it or leave the folder out")
        return None
    named = folder or (Path(settings.recordings) if settings.recordings else None)
    return RecordingOptions(
        named or log.absolute().parent / "recordings", settings.keep_days, settings.sound_file
    )


@contextmanager
def typed_keys(cockpit: CockpitOptions, *, on_screen: bool) -> Iterator[TerminalKeys | None]:
    """The keys, if they are wanted. on_screen: the view on the whole terminal has them."""
    if on_screen or not cockpit.keys:
        yield None
        return
    with closing(TerminalKeys()) as keys:
        yield keys
