"""All the parts around one session, opened in the right order and closed together."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from voicecheck.audio.prompts import Playback
from voicecheck.audio.source import AudioSource
from voicecheck.checklist.said import network_of
from voicecheck.engine import Engine
from voicecheck.language import Language
from voicecheck.session.ahead import Ahead
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Display
from voicecheck.session.equipment import Equipment
from voicecheck.session.hearing import open_hearing
from voicecheck.session.keyboard import Keys
from voicecheck.session.options import (
    CockpitOptions,
    HearingOptions,
    RecordingOptions,
    VoiceOptions,
)
from voicecheck.session.parts import OpenedVoice, hears, live_seconds, open_source, open_voice
from voicecheck.session.record import Record
from voicecheck.session.recording import Recording
from voicecheck.session.wording import Manner, word
from voicecheck.speech.opening import OpenedEar
from voicecheck.words import say


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a user chose about sound. wav None: live. keep: keep what is said, for a mixdown."""

    wav: Path | None
    microphone: str | None
    cockpit: CockpitOptions
    hearing: HearingOptions
    voice: VoiceOptions
    recording: RecordingOptions | None = None
    keep: bool = False

    @property
    def live(self) -> bool:
        """Whether time is real."""
        return self.wav is None


@dataclass(slots=True)
class Assembly:
    """The opened parts. ears: one for each channel, none when callouts come by key alone."""

    wanted: Wanted
    language: Language
    ears: tuple[OpenedEar, ...]
    source: AudioSource
    clock: StreamClock
    voice: OpenedVoice
    given: list[Playback] = field(default_factory=list)
    recording: Recording | None = None
    ahead: Ahead | None = None

    @property
    def listeners(self) -> tuple[str, ...]:
        """Names of the listeners of each channel."""
        return self.ears[0].listeners if self.ears and hears(self.source) else ()

    def record(self, session: str, offset: float = 0.0) -> None:
        """Begin the recording, where the crew has consented to one."""
        if self.wanted.recording is not None and self.wanted.live:
            channels = self.source.channels
            self.recording = Recording(self.wanted.recording, session, channels, offset)

    def gave(self, playback: Playback, text: str) -> None:
        """The voice gave this out."""
        if self.wanted.keep:
            self.given.append(playback)
        if self.recording is not None:
            self.recording.gave(playback, text)

    def conductor(
        self,
        engine: Engine,
        record: Record,
        display: Display,
        summarise: Callable[[dict[str, Any], int], dict[str, Any]],
        offset: float = 0.0,
    ) -> Conductor:
        """The conductor of these parts; from now on the clock runs."""
        wanted = self.wanted
        manner = Manner(wanted.voice.wording, wanted.voice.rate)
        if self.voice.speaker is not None and wanted.live:
            self.ahead = Ahead(
                lambda say: word(say, self.language, manner).spoken, self.voice.speaker.prepare
            )
        equipment = Equipment(
            self.language,
            self.voice.prompter,
            [opened.ear for opened in self.ears] if hears(self.source) else (),
            self.voice.shutter(wanted.cockpit, display.notice, live=wanted.live),
            wanted.cockpit.keys,
            manner,
            recording=self.recording,
        )
        if self.ahead is not None:
            equipment = replace(equipment, ahead=self.ahead.look)
        network = network_of(engine.checklist, self.language.sayings)
        for opened in self.ears:
            opened.ear.understand(network)
        conductor = Conductor(engine, equipment, record, display, summarise, offset)
        live = live_seconds(self.source)
        self.clock.start((lambda: conductor.now) if live is None else lambda: offset + live())
        return conductor

    def close(self) -> None:
        """Close everything, whatever was opened."""
        self.source.stop()
        if self.ahead is not None:
            self.ahead.close()
        self.voice.close()
        if self.recording is not None:
            self.recording.close()


def open_ears(
    wanted: Wanted,
    language: Language,
    cache: Path,
    display: Display,
    words: Collection[str] = (),
) -> tuple[OpenedEar, ...]:
    """One ear for each channel. Raises VoicecheckError for a missing or broken model.

    words: all that can be said, so that the unknown among them get a guessed sound.
    """
    if not wanted.cockpit.hear:
        return ()
    display.notice(say("notice-loading"))
    ears = tuple(
        open_hearing(language, wanted.hearing, cache, words) for _ in range(wanted.cockpit.channels)
    )
    for notice in ears[0].notices:
        display.notice(notice)
    return ears


def assemble(
    wanted: Wanted,
    language: Language,
    ears: tuple[OpenedEar, ...],
    cache: Path,
    display: Display,
    source: AudioSource | None = None,
    offset: float = 0.0,
) -> Assembly:
    """Open source and voice. The microphone comes after the ears: its sound would pile up."""
    source = source or open_source(wanted.wav, wanted.microphone, wanted.cockpit, display.notice)
    clock = StreamClock(offset)
    kept: list[Callable[[Playback, str], None]] = []
    try:
        voice = open_voice(
            wanted.voice,
            cache,
            clock,
            live=wanted.live,
            kept=lambda playback, text: kept[0](playback, text),
            respelt=language.speech.respelt,
        )
    except BaseException:
        source.stop()
        raise
    assembly = Assembly(wanted, language, ears, source, clock, voice)
    kept.append(assembly.gave)
    for notice in voice.notices:
        display.notice(notice)
    return assembly


def typed(keys: Keys | None, conductor: Conductor) -> None:
    """Hand over what was typed meanwhile."""
    for entry in keys.pending() if keys is not None else ():
        conductor.typed(entry.text, entry.age)
