"""The options about sound that sessions share: command line first, then settings."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, TypeVar

import typer

from voicecheck.cli.keys import TerminalKeys
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import (
    CockpitOptions,
    HearingOptions,
    RecordingOptions,
    VoiceOptions,
)
from voicecheck.session.settings import Settings

T = TypeVar("T")

Device = Annotated[str | None, typer.Option(metavar="NAME", help="Number, name or part of a name.")]
Headset = Annotated[
    bool | None,
    typer.Option(
        "--headset/--speaker",
        help="Headset or intercom: prompts cannot reach the microphone, so the crew may speak "
        "while one sounds. Open speaker: nothing is heard during a prompt. See `audio --echo`.",
        show_default="settings, else speaker",
    ),
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
Own = Annotated[
    bool,
    typer.Option(
        "--own-listener/--no-own-listener",
        help="Whether voicecheck's own listener leads and the others are its witnesses, or they "
        "decide without it.",
    ),
]


@dataclass(frozen=True, slots=True)
class Cockpit:
    """From where, and how, the crew is heard."""

    from_: Annotated[
        Path | None, typer.Option("--from", metavar="FILE.wav", help="Listen to a recording.")
    ] = None
    microphone: Device = None
    loudspeaker: Device = None
    headset: Headset = None
    channels: Annotated[
        int | None,
        typer.Option(
            min=1,
            max=2,
            help="2: the pilot on the left channel, the second crew member on the right.",
            show_default="settings, else 1",
        ),
    ] = None
    talk_key: Annotated[
        bool | None,
        typer.Option(
            "--talk-key/--open-microphone",
            help="Push to talk: the space bar opens the microphone and closes it again.",
            show_default="settings, else open",
        ),
    ] = None
    keys: Annotated[
        bool | None,
        typer.Option(
            "--keys/--no-keys",
            help="List the callouts with numbers that can be typed.",
            show_default="yes at a terminal",
        ),
    ] = None
    deaf: Annotated[bool, typer.Option(help="Open no microphone: callouts by key alone.")] = False

    @property
    def live(self) -> bool:
        """Whether time is real."""
        return self.from_ is None

    def require_one_source(self) -> None:
        """Raise VoicecheckError where a recording and a microphone are asked for."""
        if self.from_ is not None and self.microphone is not None:
            raise VoicecheckError("--from and --microphone are two sources; give one of them")

    def options(self, settings: Settings) -> CockpitOptions:
        """What was asked for, or is remembered. Raises VoicecheckError for what excludes itself."""
        self._require_live()
        keys = self._keys()
        held = self._hears and _or(self.talk_key, settings.talk_key)
        if held and not keys:
            raise VoicecheckError("--talk-key needs the keys; give --keys with it")
        channels = self.channels or (settings.channels if self.live else 1)
        return CockpitOptions(
            headset=_or(self.headset, settings.cockpit == "headset"),
            echo_tail=settings.echo_tail,
            channels=2 if channels == 2 and not self.deaf else 1,
            talk_key=held,
            keys=keys,
            hear=not self.deaf,
        )

    @property
    def _hears(self) -> bool:
        return self.live and not self.deaf

    def _require_live(self) -> None:
        if not self.live and (self.keys or self.deaf or self.talk_key):
            raise VoicecheckError(
                "--keys, --deaf and --talk-key go with a live session; leave them out with --from"
            )
        if self.deaf and self.keys is False:
            raise VoicecheckError("--deaf leaves only the keys; do not give --no-keys with it")

    def _keys(self) -> bool:
        at_terminal = sys.stdin is not None and sys.stdin.isatty()
        wanted = self.live and (self.deaf or _or(self.keys, at_terminal))
        if wanted and sys.stdin is None:
            raise VoicecheckError("--keys needs standard input; do not close it")
        return wanted


@dataclass(frozen=True, slots=True)
class Listeners:
    """Who listens."""

    listener: Annotated[
        str, typer.Option(metavar="pocketsphinx|vosk", help="The streaming listener.")
    ] = "pocketsphinx"
    model: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder of a Vosk model, or its name (--listener vosk)."),
    ] = None
    second_listener: Second = "auto"
    own_listener: Own = False

    def options(self) -> HearingOptions:
        """Checked. Raises VoicecheckError."""
        if self.listener == "pocketsphinx":
            if self.model is not None:
                raise VoicecheckError("--model goes with --listener vosk; leave it out")
            return HearingOptions(second=self.second_listener, own=self.own_listener)
        if self.listener == "vosk":
            if self.model is None:
                raise VoicecheckError(
                    "--listener vosk needs --model DIR, the folder or the name of a Vosk model"
                )
            return HearingOptions("vosk", self.model, self.second_listener, own=self.own_listener)
        raise VoicecheckError(f"--listener {self.listener}: unknown; choose pocketsphinx or vosk")


@dataclass(frozen=True, slots=True)
class Prompts:
    """How prompts sound."""

    mute: Annotated[bool, typer.Option(help="Show prompts, speak none.")] = False
    rate: Annotated[
        int | None,
        typer.Option(help="Words a minute of the prompts.", show_default="settings, else 165"),
    ] = None
    volume: Annotated[
        float | None,
        typer.Option(help="Of the prompts, up to 1.", show_default="settings, else 1"),
    ] = None
    voice: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="An espeak voice or language, such as en-gb."),
    ] = None
    terse: Annotated[
        bool | None,
        typer.Option(
            "--terse/--full",
            help="Few words, none of them long.",
            show_default="settings, else full",
        ),
    ] = None
    tones: Annotated[
        bool | None,
        typer.Option(
            "--tones/--no-tones",
            help="Short tones for heard, not understood and warning.",
            show_default="settings, else yes",
        ),
    ] = None

    def options(self, settings: Settings, loudspeaker: str | None) -> VoiceOptions:
        """As asked for, or as remembered."""
        return VoiceOptions(
            speak=not self.mute,
            rate=_or(self.rate, settings.rate),
            voice=self.voice or settings.voice,
            volume=_or(self.volume, settings.volume),
            loudspeaker=loudspeaker or settings.loudspeaker,
            wording="terse" if _or(self.terse, settings.wording == "terse") else "full",
            tones=_or(self.tones, settings.tones),
        )


@dataclass(frozen=True, slots=True)
class Keeping:
    """Whether, and where, the session's sound is kept."""

    record: Annotated[
        bool | None,
        typer.Option(
            "--record/--no-record",
            help="Consent to keeping the session's sound; it is said aloud.",
            show_default="settings, else no",
        ),
    ] = None
    recordings: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Where recordings go.",
            show_default="`recordings` beside the log",
        ),
    ] = None

    def options(self, settings: Settings, log: Path, *, live: bool) -> RecordingOptions | None:
        """Where the sound is kept, if the crew has consented; None otherwise.

        Raises VoicecheckError for a folder without consent: nobody shall believe to be recorded.
        """
        if self.record and not live:
            raise VoicecheckError("--record goes with a live session; leave it out with --from")
        if not live or not _or(self.record, settings.record):
            if self.recordings is not None:
                raise VoicecheckError(
                    "--recordings goes with --record; add it or leave the folder out"
                )
            return None
        remembered = Path(settings.recordings) if settings.recordings else None
        folder = self.recordings or remembered or log.absolute().parent / "recordings"
        return RecordingOptions(folder, settings.keep_days, settings.sound_file)


def _or(asked: T | None, remembered: T) -> T:
    return remembered if asked is None else asked


@contextmanager
def typed_keys(cockpit: CockpitOptions, *, on_screen: bool) -> Iterator[TerminalKeys | None]:
    """The keys, if they are wanted. on_screen: the view on the whole terminal has them."""
    if on_screen or not cockpit.keys:
        yield None
        return
    with closing(TerminalKeys()) as keys:
        yield keys
