"""A microphone as a source of sound that outlives its own disappearance."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from types import TracebackType
from typing import Final, Self

import numpy as np

from voicecheck.audio.capture import Capture
from voicecheck.audio.devices import find_microphone
from voicecheck.audio.portaudio import refresh
from voicecheck.audio.source import (
    RATE,
    Block,
    Channels,
    Item,
    SoundDropped,
    SourceLost,
    SourceRestored,
    in_blocks,
)
from voicecheck.errors import VoicecheckError

_RETRY_SECONDS: Final = 1.0
_POLL_SECONDS: Final = 0.05


class Microphone:
    """Live sound at 16 kHz. Opens the device at once; raises VoicecheckError if it cannot.

    name: device number, name or part of it, or None for the default. When the device goes
    away, `blocks` yields SourceLost, then silence at real pace so that stream time runs
    on, tries the device again every second, and yields SourceRestored once it sounds.
    """

    def __init__(self, name: str | int | None = None, channels: Channels = 1) -> None:
        self.channels: Channels = channels
        device = find_microphone(name)
        # Numbers shift when devices come and go; a default may become another device.
        self._wanted = None if name is None else device.name
        self.name = device.name
        self._overflows = 0
        self._told = 0
        self._stop = threading.Event()
        self._capture = Capture(device, channels)
        self._epoch = (0.0, self._capture)

    @property
    def overflows(self) -> int:
        """Times that sound was dropped; silence of the same length stands in its place."""
        return self._overflows + self._capture.overflows

    def now(self) -> float:
        """Stream time of what reaches the microphone at this moment; safe from any thread."""
        before, capture = self._epoch
        return before + capture.given()

    def blocks(self) -> Iterator[Item]:
        """Yield sound until `stop`; never waits longer than a moment without yielding."""
        try:
            yield from self._heard()
        finally:
            self._capture.close()

    def _heard(self) -> Iterator[Item]:
        held = np.empty((0, self.channels), np.int16)
        while not self._stop.is_set():
            heard = self._capture.read(_POLL_SECONDS)
            yield from self._dropped(self._capture.reached)
            if heard is not None:
                held = np.concatenate([held, heard])
                whole = len(held) - len(held) % (RATE // 50)
                yield from in_blocks(held[:whole])
                held = held[whole:]
            elif not self._stop.is_set() and (reason := self._capture.death()) is not None:
                yield from self._dropped(self._capture.overflows)
                yield SourceLost(reason)
                yield from self._until_restored()

    def _dropped(self, times: int) -> Iterator[SoundDropped]:
        """What of the drops of this opening was not told yet, before the silence in their place."""
        untold = self._overflows + times - self._told
        if untold > 0:
            # First: while the session writes this down, more may be dropped.
            self._told += untold
            yield SoundDropped(untold)

    def stop(self) -> None:
        """End `blocks` soon and let go of the device; safe from any thread."""
        self._stop.set()
        self._capture.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def _until_restored(self) -> Iterator[Block | SourceRestored]:
        since = self._capture.last
        self._capture.close()
        given = -self._capture.owed()
        trial: Capture | None = None
        next_try = time.monotonic()
        try:
            while not self._stop.is_set():
                now = time.monotonic()
                trial = _alive(trial)
                if trial is None and now >= next_try:
                    trial = self._reopened()
                    next_try = time.monotonic() + _RETRY_SECONDS
                began = None if trial is None else trial.first
                until = now if began is None else began
                for block in _silence(round((until - since) * RATE) - given, self.channels):
                    given += len(block)
                    yield block
                if trial is not None and began is not None:
                    self._overflows += self._capture.overflows
                    # In one step: the loudspeaker's thread may ask for the time meanwhile.
                    self._epoch = (self.now() - (time.monotonic() - until), trial)
                    self._capture, trial = trial, None
                    yield SourceRestored(until - since)
                    return
                self._stop.wait(_POLL_SECONDS)
        finally:
            if trial is not None:
                trial.close()

    def _reopened(self) -> Capture | None:
        """The plain way first: starting PortAudio again would disturb the loudspeaker."""
        for again in (False, True):
            if again and not refresh():
                return None
            try:
                return Capture(find_microphone(self._wanted), self.channels)
            except VoicecheckError:
                continue
        return None


def _alive(capture: Capture | None) -> Capture | None:
    """The same; None, and it is closed, if it has died."""
    if capture is None or capture.death() is None:
        return capture
    capture.close()
    return None


def _silence(samples: int, channels: Channels) -> list[Block]:
    return list(in_blocks(np.zeros((max(0, samples), channels), np.int16)))
