"""The order in which prompts sound: one at a time, and a warning before anything routine.

`PromptQueue.take` is the only place where a prompt advances. A loudspeaker's callback takes
from it, and so does the clock of a machine without one, so both keep the same rules.
"""

from __future__ import annotations

import enum
import threading
from collections import deque
from collections.abc import Callable, Iterable
from typing import Final

import numpy as np
import soxr

from voicecheck.audio.source import RATE, Samples

_REMEMBERED: Final = 64
"""Latest sounds of which `sounded` knows: minutes of talking without a pause."""


class PlaybackState(enum.StrEnum):
    """What has become of a prompt."""

    WAITING = "waiting"
    SOUNDING = "sounding"
    PLAYED = "played"
    CUT = "cut"


class Playback:
    """One prompt on its way to the ear.

    start, end: when it was audible, seconds on the player's clock; None before. While it
    sounds, `end` is as far as is already on its way, so a cut prompt ends there.
    unheard: some of it ran while no loudspeaker was there.
    """

    def __init__(self, pcm: Samples, urgent: bool) -> None:
        self.pcm: Final = pcm
        self.urgent: Final = urgent
        self.state = PlaybackState.WAITING
        self.start: float | None = None
        self.end: float | None = None
        self.unheard = False
        self._settled = threading.Event()

    def settle(self, state: PlaybackState) -> None:
        """It is over; called by the queue alone."""
        self.state = state
        self._settled.set()

    def over_by(self, time: float) -> bool:
        """Whether it will not be heard any more after clock time `time`."""
        if not self._settled.is_set():
            return False
        return self.end is None or self.end <= time

    def wait(self, timeout: float | None = None) -> bool:
        """Wait until its last sample was handed over or it was cut; False at the timeout."""
        return self._settled.wait(timeout)


class PromptQueue:
    """Prompts that wait or sound. All methods are safe from any thread.

    rate: hertz at which `take` gives samples; prompts are resampled when they enter.
    """

    def __init__(self, rate: int = RATE) -> None:
        self._lock = threading.Lock()
        self._rate = rate
        self._waiting: list[tuple[Playback, Samples]] = []
        self._position = 0
        self._tones: list[tuple[Playback, Samples]] = []
        self._tone_position = 0
        self._over: list[Playback] = []
        self._recent: deque[Playback] = deque(maxlen=_REMEMBERED)

    def play(self, pcm: Samples, urgent: bool) -> Playback:
        """Add a prompt. An urgent one cuts every routine one and goes behind urgent ones."""
        playback = Playback(pcm, urgent)
        sound = self._at_rate(pcm)
        with self._lock:
            if urgent:
                self._cut(lambda other: not other.urgent)
                self._cut_tones()
            self._waiting.append((playback, sound))
        return playback

    def tone(self, pcm: Samples) -> Playback:
        """Add a tone: over a prompt that sounds already, and before one that has yet to begin."""
        playback = Playback(pcm, urgent=False)
        sound = self._at_rate(pcm)
        with self._lock:
            self._tones.append((playback, sound))
        return playback

    def stop(self) -> None:
        """Cut everything."""
        with self._lock:
            self._cut(lambda _: True)
            self._cut_tones()

    def take(self, count: int, audible: float, unheard: bool = False) -> Samples:
        """The next `count` samples, silence where there is nothing to say.

        audible: clock time in seconds at which the first of them reaches the ear.
        """
        sound = np.zeros(count, np.int16)
        with self._lock:
            tones = self._take_tones(count, audible, unheard)
            filled = 0 if self._position else len(tones)
            while filled < count and self._waiting:
                playback, pcm = self._waiting[0]
                part = pcm[self._position : self._position + count - filled]
                if playback.start is None:
                    playback.start = audible + filled / self._rate
                    playback.state = PlaybackState.SOUNDING
                    self._recent.append(playback)
                sound[filled : filled + len(part)] = part
                filled += len(part)
                self._position += len(part)
                playback.end = audible + filled / self._rate
                playback.unheard |= unheard
                if self._position >= len(pcm):
                    self._leave(0, PlaybackState.PLAYED)
        if len(tones):
            mixed = sound[: len(tones)].astype(np.int32) + tones
            sound[: len(tones)] = np.clip(mixed, -32768, 32767)
        return sound

    def _take_tones(self, count: int, audible: float, unheard: bool) -> Samples:
        """The tones of the next `count` samples, one after another; shorter when they end."""
        parts: list[Samples] = []
        filled = 0
        while filled < count and self._tones:
            playback, pcm = self._tones[0]
            part = pcm[self._tone_position : self._tone_position + count - filled]
            if playback.start is None:
                playback.start = audible + filled / self._rate
                playback.state = PlaybackState.SOUNDING
                self._recent.append(playback)
            parts.append(part)
            filled += len(part)
            self._tone_position += len(part)
            playback.end = audible + filled / self._rate
            playback.unheard |= unheard
            if self._tone_position >= len(pcm):
                self._tones.pop(0)
                self._tone_position = 0
                playback.settle(PlaybackState.PLAYED)
        return np.concatenate(parts) if parts else np.zeros(0, np.int16)

    def heard(self, now: float) -> list[tuple[float, float]]:
        """Audible spans (start, end) that ended by `now` and were not given out before."""
        with self._lock:
            ended = [p for p in self._over if p.end is not None and p.end <= now]
            self._over = [p for p in self._over if p not in ended]
        return [(p.start, p.end) for p in ended if p.start is not None and p.end is not None]

    def audible(self, now: float) -> bool:
        """Whether a prompt is, or is about to be, at the ear."""
        with self._lock:
            if self._waiting or self._tones:
                return True
            return any(p.end is not None and p.end > now for p in self._recent)

    def speaking(self, now: float) -> bool:
        """Whether a prompt, tones not counted, is or is about to be at the ear."""
        with self._lock:
            return bool(self._waiting) or any(p.end is not None and p.end > now for p in self._over)

    def sounded(self, begin: float, end: float) -> bool:
        """Whether something of ours was at the ear at any moment from `begin` to `end`."""
        with self._lock:
            return any(
                p.start is not None and p.end is not None and p.start < end and begin < p.end
                for p in self._recent
            )

    def sound(self, begin: float, count: int) -> Samples:
        """What was at the ear from clock time `begin` on: `count` samples at 16 kHz."""
        with self._lock:
            return sound_of(self._recent, begin, count)

    def left(self) -> int:
        """Samples still to be taken."""
        with self._lock:
            prompts = sum(len(pcm) for _, pcm in self._waiting) - self._position
            tones = sum(len(pcm) for _, pcm in self._tones) - self._tone_position
            return max(prompts, tones) if self._position else prompts + tones

    def retune(self, rate: int) -> None:
        """From now on `take` gives samples at another rate."""
        with self._lock:
            if rate == self._rate:
                return
            self._position = round(self._position * rate / self._rate)
            self._tone_position = round(self._tone_position * rate / self._rate)
            self._rate = rate
            self._waiting = [(p, self._at_rate(p.pcm)) for p, _ in self._waiting]
            self._tones = [(p, self._at_rate(p.pcm)) for p, _ in self._tones]

    def _at_rate(self, pcm: Samples) -> Samples:
        if self._rate == RATE or not len(pcm):
            return pcm
        resampled: Samples = soxr.resample(pcm, RATE, self._rate)
        return resampled

    def _cut(self, which: Callable[[Playback], bool]) -> None:
        for index in reversed(range(len(self._waiting))):
            if which(self._waiting[index][0]):
                self._leave(index, PlaybackState.CUT)

    def _cut_tones(self) -> None:
        for playback, _ in self._tones:
            playback.settle(PlaybackState.CUT)
        self._tones.clear()
        self._tone_position = 0

    def _leave(self, index: int, state: PlaybackState) -> None:
        playback, _ = self._waiting.pop(index)
        if index == 0:
            self._position = 0
        if playback.start is not None:
            self._over.append(playback)
        playback.settle(state)


def sound_of(playbacks: Iterable[Playback], begin: float, count: int) -> Samples:
    """What these were at the ear from clock time `begin` on: `count` samples at 16 kHz."""
    sound = np.zeros(count, np.int32)
    for playback in playbacks:
        if playback.start is None or playback.end is None:
            continue
        heard = playback.pcm[: round((playback.end - playback.start) * RATE)]
        at = round((playback.start - begin) * RATE)
        part = heard[max(0, -at) : max(0, count - at)]
        first = max(0, at)
        sound[first : first + len(part)] += part
    return np.clip(sound, -32768, 32767).astype(np.int16)
