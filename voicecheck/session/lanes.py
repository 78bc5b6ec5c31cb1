"""One or two microphone channels, each with an ear of its own: who said what, and how loud.

With two microphones in one cockpit each picks up a little of the other crew member. Heard there
too, a pilot's callout would read itself back. So an utterance counts only on the channel on which
it is clearly the louder; where neither is, nobody can say who spoke and it is asked for again. What
the louder one has heard from beginning to end is news only there: a second time, as speech that
might have been about a running lamp, it would make every time uncertain.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.level import Level, level_of
from voicecheck.audio.source import RATE, Block
from voicecheck.callouts import Callout
from voicecheck.speech.verdict import Accepted, Ignored, Unclear, Verdict
from voicecheck.words import say

APART_DB: Final = 6.0
"""Decibels by which the speaker's own microphone is louder at least (our choice: a headset's boom
microphone is much nearer to its own mouth than to the other's)."""
_KEPT_SECONDS: Final = 12.0
"""More than the longest utterance and the time to decide it."""
SLACK: Final = 0.3
"""Seconds by which the fainter of two microphones may take an utterance to be longer."""
_LATEST: Final = 8
"""Utterances of a channel that are remembered, far more than fit in one of the other's."""


class Hears(Protocol):
    """The speech room as a session sees it (speech.ear.Ear)."""

    @property
    def speaking_since(self) -> float | None:
        """Stream time at which undecided speech began, or None."""

    def listen(self, callouts: Sequence[Callout]) -> None:
        """Only these can be heard from now on."""

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        """Take sound; return what was decided."""

    def finish(self) -> list[Verdict]:
        """The sound is over; decide what is left."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict, the channel it came from, and how loud that utterance was.

    elsewhere: the other microphone has heard the same, louder and whole.
    """

    channel: int
    verdict: Verdict
    level: Level
    elsewhere: bool = False


class _Lane:
    """One channel: its ear, and its latest sound for comparing levels."""

    def __init__(self, ear: Hears) -> None:
        self.ear = ear
        self._sound: list[NDArray[np.int16]] = []
        self._fed = 0
        self._kept = 0
        self._utterances: deque[tuple[float, float]] = deque(maxlen=_LATEST)

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        self._sound.append(samples)
        self._fed += len(samples)
        self._kept += len(samples)
        while self._kept - len(self._sound[0]) > _KEPT_SECONDS * RATE:
            self._kept -= len(self._sound.pop(0))
        return self._remembered(self.ear.feed(samples))

    def finish(self) -> list[Verdict]:
        return self._remembered(self.ear.finish())

    def covers(self, start: float, end: float) -> bool:
        """Whether the ear has heard, or is hearing, all that was said between two of its times."""
        since = self.ear.speaking_since
        if since is not None and since <= start + SLACK:
            return True
        return any(s <= start + SLACK and end <= e + SLACK for s, e in self._utterances)

    def _remembered(self, verdicts: list[Verdict]) -> list[Verdict]:
        self._utterances += [(verdict.start, verdict.end) for verdict in verdicts]
        return verdicts

    def between(self, start: float, end: float) -> NDArray[np.int16]:
        """The sound between two times of the ear, as far as it is still kept."""
        if not self._sound:
            return np.zeros(0, np.int16)
        first = self._fed - self._kept
        sound = np.concatenate(self._sound)
        return sound[max(0, round(start * RATE) - first) : max(0, round(end * RATE) - first)]


class Lanes:
    """The ears of a session. Without ears (callouts by key alone) nothing is ever heard."""

    def __init__(self, ears: Sequence[Hears]) -> None:
        self._lanes = [_Lane(ear) for ear in ears]

    @property
    def speaking_since(self) -> float | None:
        """When the earliest undecided speech began, in seconds of the ears, or None."""
        begun = [lane.ear.speaking_since for lane in self._lanes]
        return min((since for since in begun if since is not None), default=None)

    @property
    def failed(self) -> str | None:
        """Why an ear goes on with one listener where it had two, or None."""
        reasons = (getattr(lane.ear, "failed", None) for lane in self._lanes)
        return next((reason for reason in reasons if reason is not None), None)

    def listen(self, callouts: Sequence[Callout]) -> None:
        """Only these can be heard from now on, on any channel."""
        for lane in self._lanes:
            lane.ear.listen(callouts)

    def feed(
        self, block: Block, shutter: Callable[[NDArray[np.int16], int], NDArray[np.int16]]
    ) -> list[Judged]:
        """Take a block, each channel through the shutter; what was decided, in spoken order."""
        sounds = self._sounds(block)
        made = []
        for channel, (lane, sound) in enumerate(zip(self._lanes, sounds, strict=True)):
            made += [(channel, verdict) for verdict in lane.feed(shutter(sound, channel))]
        return self._judged(made)

    def finish(self) -> list[Judged]:
        """The sound is over; decide what is left."""
        return self._judged(
            [(channel, v) for channel, lane in enumerate(self._lanes) for v in lane.finish()]
        )

    def _sounds(self, block: Block) -> list[NDArray[np.int16]]:
        if len(self._lanes) < 2:
            return [block.mixed for _ in self._lanes]
        second = np.zeros_like(block.samples) if block.second is None else block.second
        return [block.samples, second]

    def _judged(self, made: list[tuple[int, Verdict]]) -> list[Judged]:
        return [
            self._whose(channel, verdict)
            for channel, verdict in sorted(made, key=lambda one: one[1].start)
        ]

    def _whose(self, channel: int, verdict: Verdict) -> Judged:
        sounds = [lane.between(verdict.start, verdict.end) for lane in self._lanes]
        level = level_of(sounds[channel])
        times = (verdict.start, verdict.end, verdict.decided)
        if len(sounds) < 2:
            return Judged(channel, verdict, level)
        apart = level.speech - level_of(sounds[1 - channel]).speech
        if apart <= -APART_DB:
            elsewhere = self._lanes[1 - channel].covers(verdict.start, verdict.end)
            if elsewhere or not isinstance(verdict, Ignored):
                return Judged(
                    channel, Ignored(*times, say("speech-other-microphone")), level, elsewhere
                )
        if apart < APART_DB and isinstance(verdict, Accepted):
            return Judged(channel, Unclear(*times, (), say("speech-both-microphones")), level)
        return Judged(channel, verdict, level)
