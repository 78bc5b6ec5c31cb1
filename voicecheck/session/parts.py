"""Opening a session's source of sound and its voice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from voicecheck.audio.beside import Beside
from voicecheck.audio.canceller import Canceller
from voicecheck.audio.devices import devices
from voicecheck.audio.microphone import Microphone
from voicecheck.audio.pace import Pace
from voicecheck.audio.player import Player, PromptPlayer, SilentPlayer
from voicecheck.audio.prompts import Playback
from voicecheck.audio.source import AudioSource
from voicecheck.audio.wav import WavSource
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import CockpitOptions, VoiceOptions
from voicecheck.session.prompter import Prompter
from voicecheck.session.shutter import Shutter, TalkKey
from voicecheck.voice.process import VoiceUnavailable
from voicecheck.voice.speaker import Speaker
from voicecheck.words import say

Clock = Callable[[], float]
Kept = Callable[[Playback, str], None]


def open_source(
    wav: Path | None,
    microphone: str | None,
    cockpit: CockpitOptions,
    notice: Callable[[str], None],
) -> AudioSource:
    """The recording, the microphone or, where callouts come by key alone, neither.

    Where no microphone can be opened that is told, and the session goes on by key if it has keys;
    one that was asked for and is not there, among others that are, is an error all the same.
    Raises VoicecheckError.
    """
    if wav is not None:
        return WavSource(wav, cockpit.channels)
    if not cockpit.hear:
        return Pace()
    try:
        return Microphone(microphone, cockpit.channels)
    except VoicecheckError as error:
        chosen = microphone is not None or cockpit.channels == 2
        if not cockpit.keys or (chosen and _any_microphone()):
            raise
        notice(say("notice-deaf", why=error))
        return Pace()


def _any_microphone() -> bool:
    try:
        return any(device.inputs for device in devices())
    except VoicecheckError:
        return False


def hears(source: AudioSource) -> bool:
    """Whether a source can carry words."""
    return not isinstance(source, Pace)


def live_seconds(source: AudioSource) -> Clock | None:
    """Seconds of sound that have reached a live source, or None for a recording."""
    if isinstance(source, Beside):
        return live_seconds(source.own)
    return source.now if isinstance(source, Microphone | Pace) else None


@dataclass(frozen=True, slots=True)
class OpenedVoice:
    """A prompter, its parts, and notices of what is missing."""

    prompter: Prompter
    speaker: Speaker | None
    player: PromptPlayer
    notices: tuple[str, ...]

    def shutter(
        self, cockpit: CockpitOptions, notice: Callable[[str], None], *, live: bool
    ) -> Shutter:
        """What of the microphone may be heard, so that we never act on ourselves."""
        key = TalkKey() if cockpit.talk_key and live else None
        if not live or cockpit.headset or not cockpit.hear:
            return Shutter(talk_key=key)
        cancellers: list[Canceller] = []
        try:
            cancellers = [Canceller() for _ in range(cockpit.channels)]
        except VoicecheckError as error:
            notice(say("notice-over-prompt-lost", why=error))
        return Shutter(self.player, cockpit.echo_tail, key, cancellers)

    def close(self) -> None:
        """Let go of loudspeaker and synthesiser."""
        self.player.close()
        if self.speaker is not None:
            self.speaker.close()


def open_voice(
    options: VoiceOptions,
    cache: Path,
    clock: Clock,
    *,
    live: bool,
    kept: Kept | None = None,
    respelt: Mapping[str, str] | None = None,
) -> OpenedVoice:
    """The voice, as far as this machine has one; a mute machine still runs, and says so.

    live False: nothing is played, but prompts take their time on the clock. kept: called with
    each sound that is given out and its words, none for a tone. respelt: of the language, word to
    what the synthesiser must read.
    """
    notices: list[str] = []
    speaker: Speaker | None = None
    if options.speak:
        try:
            speaker = Speaker(
                options.rate, options.voice, options.volume, cache / "prompts", respelt=respelt
            )
        except VoiceUnavailable as error:
            left = "notice-mute-tones" if options.tones and live else "notice-mute-text"
            notices.append(say(left, why=error))
    player: PromptPlayer = SilentPlayer(clock)
    if live and (speaker is not None or options.tones):
        try:
            player = Player(options.loudspeaker, clock)
        except VoicecheckError as error:
            if options.loudspeaker is not None:
                if speaker is not None:
                    speaker.close()
                raise
            notices.append(say("notice-no-loudspeaker", why=error))
    prompter = Prompter(player, speaker, options.rate, tones=options.tones, kept=kept)
    return OpenedVoice(prompter, speaker, player, tuple(notices))
