"""A sound file that grows and can be read at every moment of its growing, as WAV or as FLAC."""

from __future__ import annotations

import errno
import os
import wave
from pathlib import Path
from typing import BinaryIO, Final, Literal, Protocol

import numpy as np
import soundfile
from numpy.typing import NDArray

from voicecheck.audio.source import RATE

SoundFormat = Literal["wav", "flac"]

_STREAMINFO: Final = 18
"""Where in a FLAC file 8 bytes hold rate, channels, width and, in the last 36 bits, the number of
samples (RFC 9639, section 8.2: after the marker, a block's head and 10 bytes of its body)."""
_COUNT_BITS: Final = (1 << 36) - 1
_BLOCK_SIZE: Final = 8
"""Where its first two bytes say how many samples a frame has."""


_LARGEST: Final = 0xFFFF_FFFF - 36
"""Bytes of sound that a WAV file can tell of: its two sizes have 32 bits, and the outer one counts
36 bytes of header as well. Of two channels they last 18 hours, of three 12."""


class GrowingFile(Protocol):
    """What a recording is written to. All raise OSError where the disk refuses."""

    def write(self, sound: NDArray[np.int16]) -> None:
        """Append samples of shape (n, channels) and let readers know of them."""

    def close(self) -> None:
        """The file is complete."""


def begin(path: Path, channels: int, kind: SoundFormat) -> GrowingFile:
    """A new file of 16 kHz and 16 bits that only its owner can read."""
    file = path.open("x+b")
    path.chmod(0o600)
    return _Wave(file, channels) if kind == "wav" else _Flac(file, channels)


class _Wave:
    """The `wave` module corrects the header with each write; nothing written is ever missing."""

    def __init__(self, file: BinaryIO, channels: int) -> None:
        self._file = file
        self._wave = wave.open(file, "wb")  # noqa: SIM115
        self._wave.setnchannels(channels)
        self._wave.setsampwidth(2)
        self._wave.setframerate(RATE)

    def write(self, sound: NDArray[np.int16]) -> None:
        # The module would fail only once the bytes stand in a file that cannot tell of them.
        width = 2 * self._wave.getnchannels()
        if (self._wave.tell() + len(sound)) * width > _LARGEST:
            raise OSError(errno.EFBIG, "a WAV file holds no more sound than this, FLAC would")
        self._wave.writeframes(sound.astype("<i2").tobytes())
        self._file.flush()

    def close(self) -> None:
        try:
            self._wave.close()
        finally:
            self._file.close()


class _Flac:
    """libsndfile writes whole frames as they fill, and the number of samples only at the end.

    Until then the header would say "unknown", which libsndfile itself cannot read on from. So the
    number of samples in whole frames is put there after every write: of a crash the last frame
    (0.26 s) is missing besides what was not written yet.
    """

    def __init__(self, file: BinaryIO, channels: int) -> None:
        self._file = file
        self._written = 0
        try:
            # By descriptor: an error of the disk comes back as one, and frames go out unbuffered.
            self._flac = soundfile.SoundFile(
                file.fileno(),
                "w",
                samplerate=RATE,
                channels=channels,
                format="FLAC",
                subtype="PCM_16",
                closefd=False,
            )
        except soundfile.LibsndfileError as error:
            file.close()
            raise OSError(0, str(error)) from error

    def write(self, sound: NDArray[np.int16]) -> None:
        try:
            self._flac.write(sound)
        except soundfile.LibsndfileError as error:
            raise OSError(0, f"the disk took no more sound ({error})") from error
        self._written += len(sound)
        self._tell_length()

    def close(self) -> None:
        try:
            self._flac.close()
        except soundfile.LibsndfileError as error:
            raise OSError(0, f"the disk took no more sound ({error})") from error
        finally:
            self._file.close()

    def _tell_length(self) -> None:
        handle = self._file.fileno()
        head = os.pread(handle, _STREAMINFO + 8, 0)
        frame = int.from_bytes(head[_BLOCK_SIZE : _BLOCK_SIZE + 2])
        # A frame goes out once the first sample of the next one is there.
        whole = max(0, self._written - 1) // frame * frame
        facts = int.from_bytes(head[_STREAMINFO:]) & ~_COUNT_BITS | whole
        os.pwrite(handle, facts.to_bytes(8), _STREAMINFO)
