"""The journal file itself: private, locked, append-only, never left with half a line."""

from __future__ import annotations

import contextlib
import fcntl
import os
import stat
from pathlib import Path
from typing import Self

from voicecheck.errors import VoicecheckError


class JournalInUse(VoicecheckError):
    """Another process writes this journal."""


class Storage:
    """An open journal file. `length` counts the bytes that are known to be whole lines."""

    def __init__(self, path: Path, fd: int) -> None:
        self.path = path
        self._fd = fd
        self.length = os.fstat(fd).st_size
        self._half = False
        """A write failed and its rest could not be cut off yet."""

    @classmethod
    def create(cls, path: Path) -> Self:
        """A new empty file, 0600, in a folder of 0700. Raises OSError."""
        make_private(path.parent)
        fd = os.open(path, _FLAGS | os.O_CREAT | os.O_EXCL, 0o600)
        return cls._locked(path, fd)

    @classmethod
    def open(cls, path: Path) -> Self:
        """An existing regular file. Raises OSError, JournalInUse."""
        fd = os.open(path, _FLAGS | os.O_NONBLOCK)
        return cls._locked(path, fd)

    @classmethod
    def _locked(cls, path: Path, fd: int) -> Self:
        try:
            if not stat.S_ISREG(os.fstat(fd).st_mode):
                raise OSError(0, "not a regular file")
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            os.fchmod(fd, 0o600)
            return cls(path, fd)
        except BlockingIOError as error:
            os.close(fd)
            raise JournalInUse(
                f"{path}: another session writes this journal; end that one first"
            ) from error
        except BaseException:
            os.close(fd)
            raise

    def append(self, data: bytes) -> None:
        """Append and fsync, wholly or not at all. Raises OSError, after which a retry is safe.

        After a failure the file is cut back to its last good length; where even that
        fails it is tried again before the next write, so no half line is ever followed.
        """
        if self._half:
            self._cut_back()
        elif os.fstat(self._fd).st_size != self.length:
            raise OSError(0, "another program changed the file")
        try:
            rest = memoryview(data)
            while rest:
                rest = rest[os.write(self._fd, rest) :]
            os.fsync(self._fd)
        except OSError:
            self._half = True
            with contextlib.suppress(OSError):  # stays marked; the failed write is the cause
                self._cut_back()
            raise
        self.length += len(data)

    def cut(self, length: int) -> None:
        """Shorten to `length` bytes, durably. Raises OSError."""
        self.length = length
        self._half = True
        self._cut_back()

    def close(self) -> None:
        """Give up the lock and the file."""
        os.close(self._fd)

    def _cut_back(self) -> None:
        os.ftruncate(self._fd, self.length)
        os.fsync(self._fd)
        self._half = False


_FLAGS = os.O_WRONLY | os.O_APPEND | os.O_NOFOLLOW | os.O_CLOEXEC


def make_private(folder: Path) -> None:
    """Make `folder` and what is missing above it, each 0700. Raises OSError."""
    missing = [part for part in (folder, *folder.parents) if not part.exists()]
    for part in reversed(missing):
        part.mkdir(mode=0o700, exist_ok=True)
        sync_folder(part.parent)


def keep(path: Path, data: bytes) -> None:
    """Add bytes to a private file beside the journal, durably. Raises OSError."""
    fd = os.open(path, _FLAGS | os.O_CREAT, 0o600)
    try:
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(fd, rest) :]
        os.fsync(fd)
    finally:
        os.close(fd)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make a new name in `folder` survive a power cut. Raises OSError."""
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
