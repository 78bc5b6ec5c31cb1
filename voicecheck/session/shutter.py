"""When the microphone is held shut, and what was only half heard because of that.

It is shut while one of our own prompts is audible and for as long as the room carries it after
(where loudspeaker and microphone share a room), and whenever the crew uses a talk key and does not
press it. What was said across a closing or opening shutter is only half heard: "three green" may
be the beginning of "three green, one dark", or the end of "not three green". So such an utterance
is never acted on, it is asked for again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from voicecheck.speech.verdict import Accepted, Unclear, Verdict

USUAL_TAIL: Final = 0.3
"""Seconds for which a room carries the end of a prompt, where nobody has measured it (common
practice, no source)."""
HANG: Final = 0.4
"""Seconds for which the microphone stays open after the talk key is let go: the end of a word."""
_EARLY: Final = 0.1
"""Seconds by which a sound card may give a prompt out before the time that it reports."""
_AFTER_OPENING: Final = 0.15
"""Speech found so soon after an opening may have begun before it: two blocks of the detector's
onset (speech.endpoint) and its slack."""
_BEFORE_CLOSING: Final = 0.25
"""Speech that ended so soon before a closing may have gone on."""
_HALF_HEARD: Final = "only half heard, the microphone was shut for a part of it"


class Sounds(Protocol):
    """What knows when we were audible (an audio player)."""

    def sounded(self, begin: float, end: float) -> bool:
        """Whether something of ours was audible at any moment between two stream times."""


class TalkKey:
    """Push to talk: shut unless pressed. A terminal tells no release, so a press toggles."""

    def __init__(self) -> None:
        self.pressed = False
        self._open_until = 0.0

    def toggle(self, now: float) -> None:
        """The key was struck at stream time `now`."""
        self.pressed = not self.pressed
        self._open_until = now + HANG

    def shut(self, begin: float) -> bool:
        """Whether sound from `begin` on is not meant for us."""
        return not self.pressed and begin >= self._open_until


@dataclass(slots=True)
class _Shut:
    """A time for which the shutter was shut, in stream seconds."""

    begin: float
    end: float


class Shutter:
    """What of the microphone's sound may be heard.

    player: whose sound comes back through the microphone, None with headsets; tail: seconds for
    which it lingers, as the echo test of `voicecheck audio` measures; talk_key: None when the
    crew need not press one.
    """

    def __init__(
        self,
        player: Sounds | None = None,
        tail: float = USUAL_TAIL,
        talk_key: TalkKey | None = None,
    ) -> None:
        self._player = player
        self._tail = tail
        self.talk_key = talk_key
        self._shut: list[_Shut] = []

    def through(self, sound: NDArray[np.int16], begin: float, end: float) -> NDArray[np.int16]:
        """A block of sound from stream time `begin` to `end`: as it is, or silent if shut."""
        if not self._is_shut(begin, end):
            return sound
        if self._shut and begin - self._shut[-1].end < 0.001:
            self._shut[-1].end = max(end, self._shut[-1].end)
        else:
            self._shut = [*self._shut[-15:], _Shut(begin, end)]
        return np.zeros_like(sound)

    def judged(self, verdict: Verdict, offset: float = 0.0) -> Verdict:
        """The verdict, or Unclear where a part of the utterance may be missing.

        offset: what to add to the verdict's times to have stream time.
        """
        begin, end = verdict.start + offset, verdict.end + offset
        if not isinstance(verdict, Accepted) or not any(
            shut.begin - _BEFORE_CLOSING < end and begin < shut.end + _AFTER_OPENING
            for shut in self._shut
        ):
            return verdict
        return Unclear(verdict.start, verdict.end, verdict.decided, (), _HALF_HEARD)

    def _is_shut(self, begin: float, end: float) -> bool:
        if self.talk_key is not None and self.talk_key.shut(begin):
            return True
        player = self._player
        return player is not None and player.sounded(begin - self._tail, end + _EARLY)
