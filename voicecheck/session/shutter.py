"""When the microphone is held shut, and what was only half heard because of that.

It is shut while one of our own prompts is audible and for as long as the room carries it after
(where loudspeaker and microphone share a room), and whenever the crew uses a talk key and does not
press it. What was said across a closing or opening shutter is only half heard: "three green" may
be the beginning of "three green, one dark", or the end of "not three green". So such an utterance
is never acted on, it is asked for again.

While it is shut for a prompt, what is left of the sound without that prompt still goes to the
ears: not for what it says, but so that nothing is said over a prompt unnoticed. A correction or a
lamp's going out may be in it. Whatever is found there is asked for again; where the sound is taken
for speech at every prompt it is rather our own, and is only noted, which makes timings wider.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from voicecheck.session.own_trace import OwnTrace
from voicecheck.speech.verdict import Accepted, Ignored, Unclear, Verdict
from voicecheck.words import say

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
_WORD: Final = 0.3
"""Seconds of the shortest word that could be a callout; what is shorter is a click or a breath."""
_LEARNING: Final = 6.0
"""Seconds of our own sound until the canceller knows the room: WebRTC's took less than one where
the delay was exact, and up to five through a sound server. The preamble alone takes as long."""
_TOO_OFTEN: Final = 4
"""Prompts in a row with speech over them from which on it is rather our own."""


class Sounds(Protocol):
    """What knows when we were audible (an audio player)."""

    def sounded(self, begin: float, end: float) -> bool:
        """Whether something of ours was audible at any moment between two stream times."""

    def sound(self, begin: float, count: int) -> NDArray[np.int16]:
        """What of ours was audible from a stream time on: so many samples."""


class Cancels(Protocol):
    """What takes our own sound out of a channel (audio.canceller.Canceller)."""

    def without(self, own: NDArray[np.int16], heard: NDArray[np.int16]) -> NDArray[np.int16]:
        """`heard` less what came back of `own`."""


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
    """A time for which the shutter was shut, in stream seconds. prompt: its number, 0 if none."""

    begin: float
    end: float
    prompt: int = 0


class Shutter:
    """What of the microphone's sound may be heard.

    player: whose sound comes back through the microphone, None with headsets; tail: seconds for
    which it lingers, as the echo test of `voicecheck audio` measures; talk_key: None when the
    crew need not press one; cancellers: one for each channel, none where nothing said over a
    prompt can be noticed.
    """

    def __init__(
        self,
        player: Sounds | None = None,
        tail: float = USUAL_TAIL,
        talk_key: TalkKey | None = None,
        cancellers: Sequence[Cancels] = (),
    ) -> None:
        self._player = player
        self._tail = tail
        self.talk_key = talk_key
        self._cancellers = cancellers if player is not None else ()
        self._traces = [OwnTrace() for _ in self._cancellers]
        self._shut: list[_Shut] = []
        self._prompts = 0
        self._learnt = 0.0
        self._spoken_over = 0
        self._in_a_row = 0

    @property
    def doubted(self) -> bool:
        """Whether it cannot be told in this room if somebody speaks over a prompt."""
        return self._in_a_row >= _TOO_OFTEN

    def over(
        self, begin: float, end: float
    ) -> Callable[[NDArray[np.int16], int], NDArray[np.int16]]:
        """For a block from stream time `begin` to `end`: what may be heard of a channel's sound."""
        by_key = self.talk_key is not None and self.talk_key.shut(begin)
        by_prompt = self._player is not None and self._player.sounded(
            begin - self._tail, end + _EARLY
        )
        if by_key or by_prompt:
            self._note(begin, end, by_prompt and not by_key)

        def through(sound: NDArray[np.int16], channel: int) -> NDArray[np.int16]:
            rest = np.zeros_like(sound)
            if channel < len(self._cancellers) and self._player is not None:
                # Also while open: the canceller must not lose the thread.
                own = self._player.sound(begin, len(sound))
                rest = self._cancellers[channel].without(own, sound)
                self._traces[channel].add(begin, own, rest)
            if by_key:
                return np.zeros_like(sound)
            return rest if by_prompt else sound

        return through

    def judged(self, verdict: Verdict, offset: float = 0.0, channel: int = 0) -> Verdict | None:
        """The verdict, Unclear where a part of it may be missing, None for a trace of ourselves.

        offset: what to add to the verdict's times to have stream time.
        """
        begin, end = verdict.start + offset, verdict.end + offset
        prompt = self._prompt_under(begin, end)
        if prompt is not None and not (
            isinstance(verdict, Ignored) and verdict.reason == say("speech-other-microphone")
        ):
            times = (verdict.start, verdict.end, verdict.decided)
            return self._over_prompt(prompt, times, (begin, end), channel)
        if not isinstance(verdict, Accepted) or not any(
            shut.begin - _BEFORE_CLOSING < end and begin < shut.end + _AFTER_OPENING
            for shut in self._shut
        ):
            return verdict
        return Unclear(verdict.start, verdict.end, verdict.decided, (), say("speech-half-heard"))

    def _over_prompt(
        self,
        prompt: _Shut,
        times: tuple[float, float, float],
        span: tuple[float, float],
        channel: int,
    ) -> Verdict | None:
        """The verdict on what was spoken over a prompt. span: in stream time."""
        begin, end = span
        within = prompt.begin <= begin and end <= prompt.end
        ours = within and self._traces[channel].is_ours(begin, end)
        if end - begin < _WORD:
            # The canceller lets a moment through at times; no call about a lamp is so short.
            return None if ours else Ignored(*times, say("speech-short-over-prompt"))
        if ours:
            return Ignored(*times, say("speech-own"))
        if self._at_every_prompt(prompt) and within:
            return Ignored(*times, say("speech-own-always"))
        return Unclear(*times, (), say("speech-over-prompt"))

    def _note(self, begin: float, end: float, by_prompt: bool) -> None:
        last = self._shut[-1] if self._shut else None
        if last is not None and begin - last.end < 0.001 and bool(last.prompt) is by_prompt:
            last.end = max(end, last.end)
        else:
            self._prompts += by_prompt
            number = self._prompts if by_prompt else 0
            self._shut = [*self._shut[-15:], _Shut(begin, end, number)]
        if by_prompt:
            self._learnt += end - begin

    def _prompt_under(self, begin: float, end: float) -> _Shut | None:
        """The latest prompt over which this was spoken for as long as a word."""
        if not self._cancellers:
            return None
        under = [
            shut
            for shut in self._shut
            if shut.prompt
            and min(end, shut.end) - max(begin, shut.begin) >= min(_WORD, end - begin)
        ]
        return under[-1] if under else None

    def _at_every_prompt(self, prompt: _Shut) -> bool:
        """Whether speech over a prompt is nothing special here; it was found over this one."""
        if prompt.prompt > self._spoken_over:
            follows = prompt.prompt == self._spoken_over + 1
            self._in_a_row = self._in_a_row + 1 if follows else 1
            self._spoken_over = prompt.prompt
        return self.doubted or self._learnt < _LEARNING
