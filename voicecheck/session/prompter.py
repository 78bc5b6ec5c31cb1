"""What is spoken when: prompts queue, warnings go first, stale acknowledgements are dropped."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.player import PromptPlayer
from voicecheck.audio.prompts import Playback
from voicecheck.engine.effects import Priority
from voicecheck.voice.process import VoiceUnavailable
from voicecheck.voice.speaker import estimate

RATE = 16_000


class Renderer(Protocol):
    """Words to sound: a voice.Speaker, or nothing on a mute machine."""

    def render(self, text: str) -> NDArray[np.int16]:
        """The text as 16 kHz mono samples. Raises VoiceUnavailable."""


@dataclass(frozen=True, slots=True)
class Line:
    """One prompt to be spoken."""

    text: str
    priority: Priority


class Prompter:
    """Gives lines to the player one after another.

    voice: None on a mute machine; lines then take the time that speaking would take, so that
    a session runs alike with and without a voice.
    """

    def __init__(self, player: PromptPlayer, voice: Renderer | None, words_per_minute: int) -> None:
        self._player = player
        self._voice = voice
        self._rate = words_per_minute
        self._waiting: deque[Line] = deque()
        self._now: tuple[Line, Playback] | None = None
        self.spoken: list[Playback] = []
        self.failed: str | None = None
        """Why the voice fell silent, once it did."""

    @property
    def idle(self) -> bool:
        """Nothing sounds and nothing waits."""
        return not self._waiting and not self.audible

    def speak(self, lines: Sequence[Line]) -> None:
        """Take the lines of one event. The crew has gone on, so routine ones before it lapse."""
        if not lines:
            return
        self._waiting = deque(x for x in self._waiting if x.priority is not Priority.ROUTINE)
        if any(line.priority is Priority.WARNING for line in lines):
            if self._now is not None and self._now[0].priority is not Priority.WARNING:
                interrupted = self._now[0]
                self._player.stop()
                if interrupted.priority is Priority.KEPT and self._player_was_sounding():
                    self._waiting.appendleft(interrupted)
            lasting = [x for x in self._waiting if x.priority is Priority.WARNING]
            others = [x for x in self._waiting if x.priority is not Priority.WARNING]
            self._waiting = deque([*lasting, *lines, *others])
        else:
            self._waiting.extend(lines)

    @property
    def audible(self) -> bool:
        """Something sounds, or is about to."""
        return self._player.audible

    def poll(self, *, crew_speaks: bool = False) -> list[tuple[float, float]]:
        """Start the next line if it is its turn; return the spans that were audible.

        crew_speaks: somebody is in mid-utterance; only a warning may talk over them.
        """
        spans = self._player.heard()
        while self._waiting and not self._player.audible:
            if crew_speaks and self._waiting[0].priority is not Priority.WARNING:
                break
            line = self._waiting.popleft()
            playback = self._player.play(self._sound(line.text))
            self.spoken.append(playback)
            self._now = (line, playback)
            spans += self._player.heard()
        if not self._waiting and not self._player.audible:
            self._now = None
        return spans

    def _player_was_sounding(self) -> bool:
        return self._now is not None and self._now[1].start is not None

    def _sound(self, text: str) -> NDArray[np.int16]:
        if self._voice is not None and self.failed is None:
            try:
                return self._voice.render(text)
            except VoiceUnavailable as error:
                self.failed = str(error)
        return np.zeros(int(estimate(text, self._rate) * RATE), np.int16)
