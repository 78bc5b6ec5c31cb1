"""A recording as a source of sound: any rate, width and number of channels."""

from __future__ import annotations

import contextlib
import stat
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from voicecheck.audio.riff import SoundData, sound_data
from voicecheck.audio.source import BLOCK, RATE, Block, Channels, in_blocks
from voicecheck.errors import VoicecheckError

_READABLE: Final = ("WAV", "WAVEX", "RF64", "FLAC")
_LOWEST_RATE: Final = 8_000
_READ_SECONDS: Final = 0.5
_CONVERT: Final = "convert it with: sox IN -r 16000 -b 16 OUT.wav"
_RECORD_AGAIN: Final = "record or copy it again"


class WavSource:
    """Plays a WAV or FLAC file as 16 kHz blocks of 20 ms, read as it goes.

    channels 1 mixes all channels; 2 keeps left as the pilot and right as the second
    crew member, and needs a stereo file.
    Raises VoicecheckError at once for a file that is missing, empty, truncated,
    unreadable, of another kind, or that holds samples that are not numbers.
    """

    def __init__(self, path: Path | str, channels: Channels = 1) -> None:
        self.path = Path(path)
        self.channels: Channels = channels
        self._stop = threading.Event()
        _require_file(self.path)
        with _opened(self.path) as file:
            self._examine(file)
            self.rate = int(file.samplerate)
            self.seconds = file.frames / file.samplerate

    @property
    def name(self) -> str:
        """The file's name without its folder."""
        return self.path.name

    def blocks(self) -> Iterator[Block]:
        """Yield the whole recording from its beginning."""
        held = np.empty((0, self.channels), np.int16)
        for part in self._converted():
            if self._stop.is_set():
                return
            held = np.concatenate([held, part])
            whole = len(held) - len(held) % BLOCK
            yield from in_blocks(held[:whole])
            held = held[whole:]
        yield from in_blocks(held)

    def stop(self) -> None:
        """End `blocks` soon."""
        self._stop.set()

    def _converted(self) -> Iterator[NDArray[np.int16]]:
        """16 kHz int16 of shape (n, channels)."""
        with _opened(self.path) as file:
            resampler = None
            if self.rate != RATE:
                resampler = soxr.ResampleStream(self.rate, RATE, self.channels, dtype="float32")
            left = file.frames
            while left > 0:
                heard = _read(self.path, file, min(left, int(self.rate * _READ_SECONDS)))
                if not len(heard):
                    raise VoicecheckError(
                        f"{self.path}: truncated: {left / self.rate:.2f} s of the "
                        f"{self.seconds:.2f} s promised are missing; {_RECORD_AGAIN}"
                    )
                left -= len(heard)
                lanes = heard if self.channels == 2 else heard.mean(axis=1, keepdims=True)
                if resampler is not None:
                    lanes = resampler.resample_chunk(lanes, last=left == 0)
                yield _as_int16(lanes)

    def _examine(self, file: Any) -> None:
        if file.format not in _READABLE:
            raise VoicecheckError(
                f"{self.path}: {file.format} is not supported, WAV or FLAC is; {_CONVERT}"
            )
        _require_whole(self.path, file)
        if file.frames == 0:
            raise VoicecheckError(f"{self.path}: holds no sound; {_RECORD_AGAIN}")
        if file.samplerate < _LOWEST_RATE:
            raise VoicecheckError(
                f"{self.path}: {file.samplerate} Hz is too low for speech; "
                f"record at {RATE} Hz or more"
            )
        if self.channels == 2 and file.channels != 2:
            raise VoicecheckError(
                f"{self.path}: pilot and second crew member need a stereo file, this one has "
                f"{file.channels} channel(s); give a stereo recording or ask for one channel"
            )
        if file.subtype in ("FLOAT", "DOUBLE"):
            _require_numbers(self.path, file)


def _require_file(path: Path) -> None:
    """A pipe or a device would hang the session, so only plain files are taken."""
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise VoicecheckError(f"{path}: is a folder; name a WAV file inside it")
        if not stat.S_ISREG(found.st_mode):
            raise VoicecheckError(f"{path}: is not a plain file; save the sound to a WAV file")
        if found.st_size == 0:
            raise VoicecheckError(f"{path}: is empty (0 bytes); {_RECORD_AGAIN}")
        with path.open("rb"):
            pass
    except FileNotFoundError:
        raise VoicecheckError(f"{path}: no such file; check the name") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise VoicecheckError(
            f"{path}: cannot be read ({reason}); check the name and its permissions"
        ) from None


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[Any]:
    with contextlib.ExitStack() as closing:
        try:
            # By descriptor: libsndfile must judge the content, never the extension.
            content = closing.enter_context(path.open("rb"))
            file = closing.enter_context(soundfile.SoundFile(content.fileno(), closefd=False))
        except (OSError, RuntimeError, TypeError) as error:
            raise VoicecheckError(_unopened(path, error)) from None
        yield file


def _unopened(path: Path, error: Exception) -> str:
    data = sound_data(path) if path.is_file() else None
    if data is not None and data.held == 0:
        return f"{path}: holds no sound; {_RECORD_AGAIN}"
    return f"{path}: not a WAV or FLAC file that can be read ({_told(error)}); {_CONVERT}"


def _require_whole(path: Path, file: Any) -> None:
    data: SoundData | None = sound_data(path)
    if data is None:
        return
    if data.promised == 0 and data.held > 0:
        raise VoicecheckError(
            f"{path}: its header promises no sound but {data.held} bytes follow, the recorder "
            f"was stopped too early; mend it with: sox --ignore-length {path.name} OUT.wav"
        )
    if data.missing:
        seconds = file.frames / file.samplerate
        promised = seconds * data.promised / data.held if data.held else 0.0
        raise VoicecheckError(
            f"{path}: truncated: {data.missing} of the {data.promised} bytes of sound that its "
            f"header promises are missing ({seconds:.2f} s of {promised:.2f} s are there); "
            f"copy it again, or keep what is there with: sox --ignore-length {path.name} OUT.wav"
        )


def _require_numbers(path: Path, file: Any) -> None:
    seen = 0
    for block in file.blocks(blocksize=int(file.samplerate), dtype="float32", always_2d=True):
        bad = ~np.isfinite(block).all(axis=1)
        if bad.any():
            at = (seen + int(np.argmax(bad))) / file.samplerate
            raise VoicecheckError(
                f"{path}: at {at:.3f} s a sample is not a number; "
                "export it again as 16-bit PCM from the program that made it"
            )
        seen += len(block)


def _read(path: Path, file: Any, frames: int) -> NDArray[np.float32]:
    try:
        heard: NDArray[np.float32] = file.read(frames, dtype="float32", always_2d=True)
    except (OSError, RuntimeError) as error:
        raise VoicecheckError(
            f"{path}: damaged, cannot be read on ({_told(error)}); {_RECORD_AGAIN}"
        ) from None
    # A float file may hold any number; beyond full scale it is clipped sound whatever it says.
    return np.clip(heard, -1.0, 1.0)


def _as_int16(lanes: NDArray[np.float32]) -> NDArray[np.int16]:
    """Full scale is +-1.0; 16-bit samples pass through unchanged, louder ones are clipped."""
    scaled = np.rint(lanes * 32768.0)
    samples: NDArray[np.int16] = np.clip(scaled, -32768, 32767).astype(np.int16)
    return samples


def _told(error: Exception) -> str:
    return str(error).splitlines()[0].rstrip(". ") if str(error) else type(error).__name__
