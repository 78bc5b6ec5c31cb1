"""Prompts at the ear: through one long-lived stream, or in silence where there is none."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from typing import Any, Final, Protocol

import numpy as np

from voicecheck.audio.devices import Device, find_loudspeaker
from voicecheck.audio.portaudio import close_stream, library, open_stream, refresh
from voicecheck.audio.prompts import Playback, PromptQueue
from voicecheck.audio.source import RATE, Samples
from voicecheck.errors import VoicecheckError

_BLOCK: Final = 512
_TEND_SECONDS: Final = 0.05
_RETRY_SECONDS: Final = 1.0
_SILENT_AFTER: Final = 1.5
"""Seconds without a callback after which the stream counts as dead."""
_LONGEST_LATENCY: Final = 2.0

Clock = Callable[[], float]
"""Seconds, never backwards; quick enough to be called from the sound card's thread."""


class PromptPlayer(Protocol):
    """Where prompts go: `Player` or `SilentPlayer`."""

    @property
    def lost(self) -> bool:
        """True while nothing can be heard."""

    @property
    def audible(self) -> bool:
        """True while a prompt sounds or waits: what the microphone hears may be ours."""

    @property
    def speaking(self) -> bool:
        """True while a prompt sounds or waits, tones not counted."""

    def sounded(self, begin: float, end: float) -> bool:
        """Whether something of ours was audible at any moment from `begin` to `end`."""

    def sound(self, begin: float, count: int) -> Samples:
        """What was audible of ours from `begin` on: `count` samples at 16 kHz."""

    def play(self, pcm: Samples, *, urgent: bool = False) -> Playback:
        """Queue a prompt; an urgent one (a warning) cuts all routine ones at once."""

    def tone(self, pcm: Samples) -> Playback:
        """Sound a tone at once: over a prompt that sounds, before one that waits."""

    def stop(self) -> None:
        """Fall silent now."""

    def heard(self) -> list[tuple[float, float]]:
        """(start, end) on the clock of prompts that ended since the last call."""

    def close(self) -> None:
        """Let go of the device."""


class SilentPlayer:
    """For machines without a loudspeaker: prompts take their time on the clock, unheard.

    No thread runs here: a `Playback` moves on when the player is next asked something, so
    ask `heard` or `audible` and never `Playback.wait`.
    """

    lost: Final = True

    def __init__(self, clock: Clock = time.monotonic) -> None:
        self._clock = clock
        self._queue = PromptQueue()
        self._until = clock()

    @property
    def audible(self) -> bool:
        """True while a prompt would sound."""
        return self._queue.audible(self._catch_up())

    @property
    def speaking(self) -> bool:
        """True while a prompt would sound."""
        return self._queue.speaking(self._catch_up())

    def sounded(self, begin: float, end: float) -> bool:
        """Whether a prompt would have been audible at any moment from `begin` to `end`."""
        self._catch_up()
        return self._queue.sounded(begin, end)

    def sound(self, begin: float, count: int) -> Samples:
        """What would have been audible from `begin` on: `count` samples at 16 kHz."""
        self._catch_up()
        return self._queue.sound(begin, count)

    def play(self, pcm: Samples, *, urgent: bool = False) -> Playback:
        """Queue a prompt; it ends when the clock has passed its length."""
        self._catch_up()
        return self._queue.play(pcm, urgent)

    def tone(self, pcm: Samples) -> Playback:
        """A tone; it ends when the clock has passed its length."""
        self._catch_up()
        return self._queue.tone(pcm)

    def stop(self) -> None:
        """Cut everything at the present time."""
        self._catch_up()
        self._queue.stop()

    def heard(self) -> list[tuple[float, float]]:
        """(start, end) of prompts that ended since the last call."""
        return self._queue.heard(self._catch_up())

    def close(self) -> None:
        """Cut everything."""
        self.stop()

    def _catch_up(self) -> float:
        now = self._clock()
        due = min(round((now - self._until) * RATE), self._queue.left())
        if due > 0:
            self._queue.take(due, self._until, unheard=True)
            self._until += due / RATE
        if not self._queue.left():
            self._until = max(self._until, now)
        return now


class Player:
    """Speaks prompts through a loudspeaker. Raises VoicecheckError if none can be opened.

    name: device number, name or part of it, or None for the default.
    When the device is lost, prompts run on in silence (`Playback.unheard`) so that a
    session is not held up, and the device is tried again every second.
    """

    def __init__(self, name: str | int | None = None, clock: Clock = time.monotonic) -> None:
        self._clock = clock
        self._queue = PromptQueue()
        self._finished = threading.Event()
        self._closing = threading.Event()
        self._last_call = time.monotonic()
        self._latency = 0.0
        """Seconds from handing a sample over to hearing it, as the device reports."""
        self._rate = RATE
        device = find_loudspeaker(name)
        self._wanted = None if name is None else device.name
        self.name = device.name
        self._stream: Any = self._open(device)
        self._keeper = threading.Thread(target=self._tend, name="loudspeaker", daemon=True)
        self._keeper.start()

    @property
    def lost(self) -> bool:
        """True while the device is away."""
        return self._stream is None

    @property
    def audible(self) -> bool:
        """True while a prompt sounds or waits."""
        return self._queue.audible(self._clock())

    @property
    def speaking(self) -> bool:
        """True while a prompt sounds or waits."""
        return self._queue.speaking(self._clock())

    def sounded(self, begin: float, end: float) -> bool:
        """Whether a prompt was audible at any moment from `begin` to `end`."""
        return self._queue.sounded(begin, end)

    def sound(self, begin: float, count: int) -> Samples:
        """What was audible of ours from `begin` on: `count` samples at 16 kHz."""
        return self._queue.sound(begin, count)

    def play(self, pcm: Samples, *, urgent: bool = False) -> Playback:
        """Queue a prompt (1-D int16, 16 kHz)."""
        return self._queue.play(pcm, urgent)

    def tone(self, pcm: Samples) -> Playback:
        """Sound a tone (1-D int16, 16 kHz) at once, whatever else sounds."""
        return self._queue.tone(pcm)

    def stop(self) -> None:
        """Fall silent now, but for what the device already holds (about 50 ms)."""
        self._queue.stop()

    def heard(self) -> list[tuple[float, float]]:
        """(start, end) of prompts that ended since the last call."""
        return self._queue.heard(self._clock())

    def close(self) -> None:
        """Fall silent and let go of the device; safe twice."""
        self._closing.set()
        self._keeper.join()
        self._queue.stop()
        if self._stream is not None:
            close_stream(self._stream)
            self._stream = None

    def _open(self, device: Device) -> Any:
        audio = library()
        refusal: Exception | None = None
        for lanes in (1, 2):
            for rate in dict.fromkeys((RATE, device.rate)):
                # Set before the stream starts: its first call may come at any moment.
                self._rate = rate
                self._queue.retune(rate)
                self._finished.clear()
                self._last_call = time.monotonic()
                try:
                    stream = open_stream(
                        "RawOutputStream",
                        busy=lambda: self._queue.audible(self._clock()),
                        device=device.number,
                        samplerate=rate,
                        channels=lanes,
                        dtype="int16",
                        blocksize=_BLOCK,
                        latency="low",
                        callback=self._fill if lanes == 1 else self._fill_both,
                        finished_callback=self._finished.set,
                    )
                except (audio.PortAudioError, ValueError) as error:
                    refusal = error
                else:
                    self._latency = float(stream.latency)
                    return stream
        raise VoicecheckError(
            f"loudspeaker {device.name!r} cannot be opened ({str(refusal).splitlines()[0]}); "
            "close other programs that use it or choose another"
        )

    def _fill(self, out: Any, frames: int, when: Any, _status: Any) -> None:
        """PortAudio's thread: hand over the next samples."""
        out[:] = self._next(frames, when).tobytes()

    def _fill_both(self, out: Any, frames: int, when: Any, _status: Any) -> None:
        """The same for a device that insists on two channels."""
        out[:] = np.repeat(self._next(frames, when), 2).tobytes()

    def _next(self, frames: int, when: Any) -> Samples:
        self._last_call = time.monotonic()
        ahead = when.outputBufferDacTime - when.currentTime
        # Some systems report no times (0) or nonsense; then the stream's own figure stands.
        if not 0 < ahead < _LONGEST_LATENCY:
            ahead = self._latency
        return self._queue.take(frames, self._clock() + ahead)

    def _tend(self) -> None:
        """Own thread: notice a lost device, let prompts pass meanwhile, try again."""
        next_try = passed = 0.0
        while not self._closing.wait(_TEND_SECONDS):
            now = time.monotonic()
            if self._stream is not None:
                if not self._finished.is_set() and now - self._last_call < _SILENT_AFTER:
                    continue
                dead, self._stream = self._stream, None
                close_stream(dead)
                # Started again in the same breath: `refresh` may have closed it.
                next_try = passed = now
            if now >= next_try:
                self._stream = self._reopened()
                next_try = time.monotonic() + _RETRY_SECONDS
            if self._stream is None:
                now = time.monotonic()
                due = math.floor((now - passed) * self._rate)
                self._queue.take(due, self._clock() - due / self._rate, unheard=True)
                passed += due / self._rate

    def _reopened(self) -> Any:
        for again in (False, True):
            if again and not refresh():
                return None
            try:
                return self._open(find_loudspeaker(self._wanted))
            except VoicecheckError:
                continue
        return None
