"""What is spoken when: prompts queue, warnings go first, stale acknowledgements are dropped."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.player import PromptPlayer
from voicecheck.audio.prompts import Playback, PlaybackState
from voicecheck.audio.tones import Tone, tone
from voicecheck.engine.effects import Priority
from voicecheck.session.wording import Worded
from voicecheck.voice.process import VoiceUnavailable
from voicecheck.voice.speaker import estimate

RATE: Final = 16_000
_AGAIN: Final = 4
"""Lines said into a dead loudspeaker that are said again when it is back: the latest ones."""


class Renderer(Protocol):
    """Words to sound: a voice.Speaker, or nothing on a mute machine."""

    def render(self, text: str) -> NDArray[np.int16]:
        """The text as 16 kHz mono samples. Raises VoiceUnavailable."""


@dataclass(frozen=True, slots=True)
class Line:
    """One prompt to be spoken, or a piece of one. first: not a later piece."""

    text: str
    priority: Priority
    first: bool = True


def lines_of(text: Worded, priority: Priority) -> list[Line]:
    """The pieces of a prompt."""
    return [Line(piece, priority, first=not n) for n, piece in enumerate(text.spoken)]


class Prompter:
    """Gives lines to the player one after another.

    voice: None on a mute machine; lines then take the time that speaking would take, so that
    a session runs alike with and without a voice. tones: also sound them. kept: called with
    every sound given to the player and its words, none for a tone.
    """

    def __init__(
        self,
        player: PromptPlayer,
        voice: Renderer | None,
        words_per_minute: int,
        *,
        tones: bool = True,
        kept: Callable[[Playback, str], None] | None = None,
    ) -> None:
        self._player = player
        self._voice = voice
        self._rate = words_per_minute
        self._tones = tones
        self._keep = kept or (lambda _playback, _text: None)
        self._never_heard = player.lost
        self._waiting: deque[Line] = deque()
        self._now: tuple[Line, Playback] | None = None
        self._again: deque[Line] = deque(maxlen=_AGAIN)
        self._missed: Playback | None = None
        self.failed: str | None = None
        """Why the voice fell silent, once it did."""

    @property
    def loudspeaker_lost(self) -> bool:
        """A loudspeaker that was there has gone."""
        return self._player.lost and not self._never_heard

    @property
    def idle(self) -> bool:
        """Nothing sounds and nothing waits."""
        return not self._waiting and not self.audible

    def tone(self, kind: Tone) -> None:
        """Sound a tone now; words that have yet to begin wait for its end."""
        if self._tones:
            self._keep(self._player.tone(tone(kind)), "")

    def speak(self, lines: Sequence[Line]) -> None:
        """Take the lines of one event. The crew has gone on, so routine ones before it lapse."""
        if not lines:
            return
        self._waiting = deque(x for x in self._waiting if x.priority is not Priority.ROUTINE)
        if any(line.priority is Priority.WARNING for line in lines):
            self._interrupt()
            lasting = [x for x in self._waiting if x.priority is Priority.WARNING]
            others = [x for x in self._waiting if x.priority is not Priority.WARNING]
            self._waiting = deque([*lasting, *lines, *others])
        else:
            self._waiting.extend(lines)

    def _interrupt(self) -> None:
        """For a warning: what else sounds falls silent, and waits if it is to be kept."""
        if self._now is None or self._now[0].priority is Priority.WARNING:
            return
        interrupted = self._now[0]
        self._player.stop()
        if interrupted.priority is Priority.KEPT and self._player_was_sounding():
            self._waiting.appendleft(interrupted)

    def lapse(self) -> None:
        """The crew has gone on by itself: a routine line that sounds is cut short."""
        if self._now is not None and self._now[0].priority is Priority.ROUTINE:
            self._player.stop()

    def give_way(self) -> None:
        """Somebody wants to speak now: all but a warning falls silent, and a kept line waits."""
        if self._now is None or self._now[0].priority is Priority.WARNING:
            return
        line, playback = self._now
        if line.priority is Priority.KEPT and playback.state is not PlaybackState.PLAYED:
            self._waiting.appendleft(line)
        self._now = None
        self._player.stop()

    @property
    def audible(self) -> bool:
        """Something sounds, or is about to."""
        return self._player.audible

    def poll(self, *, crew_speaks: bool = False) -> list[tuple[float, float]]:
        """Start the next line if it is its turn; return the spans that were audible.

        crew_speaks: somebody is in mid-utterance; only a warning may talk over them.
        """
        spans = self._player.heard()
        self._unheard_again()
        while self._waiting and not self._player.speaking:
            if crew_speaks and self._waiting[0].priority is not Priority.WARNING:
                break
            self._start(self._waiting.popleft())
            spans += self._player.heard()
        if not self._waiting and not self._player.audible:
            self._now = None
        return spans

    def _start(self, line: Line) -> None:
        if line.first and line.priority is Priority.WARNING:
            self.tone(Tone.WARNING)
        playback = self._player.play(self._sound(line.text))
        self._keep(playback, line.text)
        self._now = (line, playback)

    def _unheard_again(self) -> None:
        """Questions and warnings that nobody could hear wait for the loudspeaker's return."""
        if self._now is not None and self._now[1].unheard and not self._never_heard:
            line, playback = self._now
            if playback is not self._missed and line.priority is not Priority.ROUTINE:
                self._missed = playback
                self._again.append(line)
        if self._again and not self._player.lost:
            self._waiting.extendleft(reversed(self._again))
            self._again.clear()

    def _player_was_sounding(self) -> bool:
        return self._now is not None and self._now[1].start is not None

    def _sound(self, text: str) -> NDArray[np.int16]:
        if self._voice is not None and self.failed is None:
            try:
                return self._voice.render(text)
            except VoiceUnavailable as error:
                self.failed = str(error)
        return np.zeros(int(estimate(text, self._rate) * RATE), np.int16)
