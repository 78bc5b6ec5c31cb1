"""PortAudio, imported late and shared by all streams of this process.

Its device list is frozen when it starts; to see a device that came back it must be started
again, which closes every stream. So all streams are opened here, under one lock, and
`refresh` closes them in order before it restarts the library.
"""

from __future__ import annotations

import contextlib
import ctypes
import functools
import importlib
import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from voicecheck.errors import VoicecheckError

_gate: Final = threading.RLock()
_streams: Final[dict[int, tuple[Any, Callable[[], bool]]]] = {}


def library() -> Any:
    """The sounddevice module. Raises VoicecheckError if PortAudio cannot be loaded."""
    try:
        audio = importlib.import_module("sounddevice")
        _hush_alsa()
        return audio
    except OSError:
        raise VoicecheckError(
            "the PortAudio library is missing, no microphone or loudspeaker can be used; "
            "install it (Debian, Ubuntu: apt-get install libportaudio2), "
            "or use --from FILE.wav or --deaf"
        ) from None
    except ImportError as error:
        raise VoicecheckError(
            f"the sounddevice package cannot be imported ({error}); "
            "install voicecheck again, or use --from FILE.wav"
        ) from None


def locked() -> threading.RLock:
    """The lock to hold while asking PortAudio anything."""
    return _gate


def open_stream(kind: str, busy: Callable[[], bool], **settings: Any) -> Any:
    """Open and start a stream of sounddevice class `kind`.

    busy: tells whether closing the stream now would be heard; see `refresh`.
    Raises sounddevice.PortAudioError as it comes, and ValueError for an unknown device.
    """
    with _gate, _quiet():
        stream = getattr(library(), kind)(**settings)
        try:
            stream.start()
        except BaseException:
            stream.close(ignore_errors=True)
            raise
        _streams[id(stream)] = (stream, busy)
        return stream


def close_stream(stream: Any) -> None:
    """Close a stream opened here; does nothing if `refresh` closed it already."""
    with _gate, _quiet():
        if _streams.pop(id(stream), None) is not None:
            stream.close(ignore_errors=True)


def refresh(force: bool = False) -> bool:
    """Start PortAudio again so that it sees what is plugged in now.

    Streams are closed and their owners find out by their finished callbacks. Unless
    forced, nothing happens (False) while some stream says that it is busy.
    """
    audio = library()
    with _gate:
        if not force and any(busy() for _, busy in _streams.values()):
            return False
        for stream, _ in list(_streams.values()):
            close_stream(stream)
        with _quiet():
            # Counted by sounddevice: one start at import, one end here for each.
            audio._terminate()
            audio._initialize()
        return True


@functools.cache
def _hush_alsa() -> None:
    """Keep ALSA from writing "underrun occurred" and the like into the crew's terminal.

    Its handler becomes a C function that ignores its arguments and needs no Python, since
    it is called from the sound card's thread.
    """
    with contextlib.suppress(OSError, AttributeError):
        alsa = ctypes.CDLL("libasound.so.2")
        ignore = ctypes.cast(ctypes.CDLL(None).getppid, ctypes.c_void_p)
        alsa.snd_lib_error_set_handler(ignore)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """ALSA and PortAudio write straight to descriptor 2 when a device fails."""
    try:
        kept = os.dup(2)
    except OSError:
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
