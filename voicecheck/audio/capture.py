"""One opened input stream: its callback copies, the reader resamples."""

from __future__ import annotations

import queue
import threading
import time
from typing import Any, Final

import numpy as np
import soxr
from numpy.typing import NDArray

from voicecheck.audio.devices import Device
from voicecheck.audio.portaudio import close_stream, library, open_stream
from voicecheck.audio.source import RATE, Channels
from voicecheck.errors import VoicecheckError

_HELD_SECONDS: Final = 20
"""How far the reader may fall behind before sound is dropped."""
_SILENT_AFTER: Final = 1.5
"""Seconds without a block after which the stream counts as dead."""
_FIRST_BLOCK_WITHIN: Final = 5.0
"""Seconds that a sound server may take until its first block."""
_BLOCKS_A_SECOND: Final = 50
_JITTER: Final = 0.1
"""Seconds by which blocks may come late without a sample being lost."""


class Capture:
    """An open microphone. Raises VoicecheckError if the device cannot be opened.

    Sound dropped because the reader fell behind is replaced by as much silence, so that
    the sample count stays true to time.
    """

    def __init__(self, device: Device, channels: Channels) -> None:
        self.overflows = 0
        """Times that sound was lost, here or in PortAudio."""
        self.reached = 0
        """How many of them lie before the end of what was read."""
        self.first: float | None = None
        """time.monotonic() at which the sound of the first block began, once it came."""
        self.last = time.monotonic()
        """time.monotonic() at the latest block, or at opening."""
        self._channels = channels
        self._missed = 0
        self._full = False
        self._taken = 0
        self._mark: tuple[int, float] | None = None
        self._blocks: queue.SimpleQueue[tuple[int, int, NDArray[np.int16]]] = queue.SimpleQueue()
        self._finished = threading.Event()
        self._stream, self.rate = self._open(device)
        self._resampler = None
        if self.rate != RATE:
            self._resampler = soxr.ResampleStream(self.rate, RATE, channels, dtype="int16")

    def read(self, timeout: float) -> NDArray[np.int16] | None:
        """The next sound, (n, channels) at 16 kHz, or None after `timeout` seconds."""
        try:
            missed, self.reached, heard = self._blocks.get(timeout=timeout)
        except queue.Empty:
            return None
        if missed:
            heard = np.concatenate([np.zeros((missed, heard.shape[1]), np.int16), heard])
        if heard.shape[1] > self._channels:
            heard = heard.mean(axis=1, keepdims=True).astype(np.int16)
        if self._resampler is not None:
            heard = self._resampler.resample_chunk(heard)
        return heard

    def given(self) -> float:
        """Seconds of sound that the microphone has given up to this moment.

        Between two blocks it runs on with the machine's clock, so it follows the sound card's
        own clock however long a session lasts. 0 before the first block.
        """
        if self._mark is None:
            return 0.0
        taken, at = self._mark
        return taken / self.rate + time.monotonic() - at

    def owed(self) -> int:
        """Samples at 16 kHz that were dropped and that no block came after: none stand for them."""
        return round(self._missed * RATE / self.rate)

    def death(self) -> str | None:
        """Why no more sound will come, or None while it does."""
        if not self._blocks.empty():
            return None
        if self._finished.is_set():
            return "the microphone was disconnected"
        limit = _SILENT_AFTER if self.first is not None else _FIRST_BLOCK_WITHIN
        if time.monotonic() - self.last > limit:
            return f"the microphone gave no sound for {limit:.1f} s"
        return None

    def close(self) -> None:
        """Let go of the device; safe twice."""
        close_stream(self._stream)

    def _open(self, device: Device) -> tuple[Any, int]:
        """16 kHz if the device takes it, else its own rate; more channels if it must."""
        audio = library()
        refusal: Exception | None = None
        for lanes in range(self._channels, min(2, device.inputs) + 1):
            for rate in dict.fromkeys((RATE, device.rate)):
                try:
                    stream = open_stream(
                        "InputStream",
                        busy=lambda: self.death() is None,
                        device=device.number,
                        samplerate=rate,
                        channels=lanes,
                        dtype="int16",
                        blocksize=rate // _BLOCKS_A_SECOND,
                        latency=0.05,
                        callback=self._arrived,
                        finished_callback=self._finished.set,
                    )
                except (audio.PortAudioError, ValueError) as error:
                    refusal = error
                else:
                    return stream, rate
        if refusal is None:
            raise VoicecheckError(
                f"microphone {device.name!r} has {device.inputs} channel, two are needed for "
                "pilot and second crew member; choose another or use one channel"
            )
        raise VoicecheckError(
            f"microphone {device.name!r} cannot be opened ({_told(refusal)}); close other "
            "programs that use it, choose another, or use --from FILE.wav"
        )

    def _arrived(self, heard: NDArray[np.int16], frames: int, _time: Any, status: Any) -> None:
        """PortAudio's thread: copy and leave."""
        self.last = now = time.monotonic()
        if self.first is None:
            self.first = now - 1 / _BLOCKS_A_SECOND
        if status.input_overflow:
            self.overflows += 1
            skipped = self._skipped(now, frames)
            self._missed += skipped
            self._taken += skipped
        self._taken += frames
        self._mark = (self._taken, now)
        if self._blocks.qsize() >= _HELD_SECONDS * _BLOCKS_A_SECOND:
            self.overflows += not self._full
            self._full = True
            self._missed += frames
            return
        self._blocks.put((self._missed, self.overflows, heard.copy()))
        self._missed = 0
        self._full = False

    def _skipped(self, now: float, frames: int) -> int:
        """Samples that PortAudio lost by its own word, by the machine's clock."""
        assert self.first is not None
        behind = (now - self.first) - (self._taken + frames) / self.rate
        return round(behind * self.rate) if behind > _JITTER else 0


def _told(error: Exception) -> str:
    return str(error).splitlines()[0].removeprefix("Error opening InputStream: ")
