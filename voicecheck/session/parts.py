"""Opening a session's source of sound and its voice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voicecheck.audio.microphone import Microphone
from voicecheck.audio.player import Player, PromptPlayer, SilentPlayer
from voicecheck.audio.source import AudioSource
from voicecheck.audio.wav import WavSource
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import VoiceOptions
from voicecheck.session.prompter import Prompter
from voicecheck.voice.process import VoiceUnavailable
from voicecheck.voice.speaker import Speaker

Clock = Callable[[], float]


def open_source(wav: Path | None, microphone: str | None) -> AudioSource:
    """The recording or the microphone. Raises VoicecheckError."""
    return WavSource(wav) if wav is not None else Microphone(microphone)


@dataclass(frozen=True, slots=True)
class OpenedVoice:
    """A prompter, its parts, and notices about what is missing."""

    prompter: Prompter
    speaker: Speaker | None
    player: PromptPlayer
    notices: tuple[str, ...]

    def close(self) -> None:
        """Let go of loudspeaker and synthesiser."""
        self.player.close()
        if self.speaker is not None:
            self.speaker.close()


def open_voice(options: VoiceOptions, cache: Path, clock: Clock, *, live: bool) -> OpenedVoice:
    """The voice, as far as this machine has one; a mute machine still runs, and says so.

    live False: nothing is played, but prompts take their time on the clock.
    """
    notices: list[str] = []
    speaker: Speaker | None = None
    if options.speak:
        try:
            speaker = Speaker(options.rate, options.voice, options.volume, cache / "prompts")
        except VoiceUnavailable as error:
            notices.append(f"mute: no voice ({error}); prompts are shown only")
    player: PromptPlayer = SilentPlayer(clock)
    if live and speaker is not None:
        try:
            player = Player(options.loudspeaker, clock)
        except VoicecheckError as error:
            if options.loudspeaker is not None:
                speaker.close()
                raise
            notices.append(f"mute: no loudspeaker ({error}); prompts are shown only")
    return OpenedVoice(Prompter(player, speaker, options.rate), speaker, player, tuple(notices))
