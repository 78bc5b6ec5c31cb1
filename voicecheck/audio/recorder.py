"""Keeping a session's sound in a file that can be read at any moment, also after a crash."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from voicecheck.audio.prompts import Playback, sound_of
from voicecheck.audio.sound_file import SoundFormat, begin
from voicecheck.audio.source import RATE, Block, Channels, Samples
from voicecheck.errors import VoicecheckError

_FLUSH_SAMPLES: Final = RATE
"""At a crash the last second may be missing, no more."""


class Recorder:
    """Writes 16 kHz, 16-bit: the microphone's channels, then one with our own prompts.

    The header tells the right length after every second. Raises VoicecheckError if the file cannot
    be made; a disk or a WAV file that is full later ends the recording, see `failed`, and never the
    session.
    """

    def __init__(self, path: Path, channels: Channels, kind: SoundFormat = "wav") -> None:
        self.path: Final = path
        self.failed: str | None = None
        """Why no more is recorded, once that is so."""
        self.written = 0
        """Samples of each channel on disk."""
        self._channels = channels
        self._waiting: list[Samples] = []
        self._count = 0
        try:
            self._file = begin(path, channels + 1, kind)
        except OSError as error:
            raise VoicecheckError(
                f"{path}: cannot be written ({error.strerror}); choose another folder with "
                "--recordings, or run without --record"
            ) from None
        self._closed = False

    def add(self, block: Block, begin: float, own: Sequence[Playback]) -> None:
        """The next block, from `begin` on the players' clock, and what we may have said in it."""
        lanes = [block.samples]
        if self._channels == 2:
            lanes.append(np.zeros_like(block.samples) if block.second is None else block.second)
        lanes.append(sound_of(own, begin, len(block)))
        self._waiting.append(np.stack(lanes, axis=1))
        self._count += len(block)
        if self._count >= _FLUSH_SAMPLES:
            self._flush()

    def close(self) -> None:
        """Write what is left; safe twice."""
        if self._closed:
            return
        self._closed = True
        self._flush()
        try:
            self._file.close()
        except OSError as error:
            self.failed = self.failed or f"{self.path}: {error.strerror}; its end may be missing"

    def _flush(self) -> None:
        if self._waiting and self.failed is None:
            sound = np.concatenate(self._waiting)
            try:
                self._file.write(sound)
                self.written += len(sound)
            except OSError as error:
                self.failed = f"{self.path}: {error.strerror}; the recording ends here"
        self._waiting.clear()
        self._count = 0
