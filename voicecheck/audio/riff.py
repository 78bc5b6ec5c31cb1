"""Reads just enough of a WAV header to tell whether the sound it promises is there.

libsndfile quietly shortens a truncated recording, so the promise is compared here.
Chunk layout: Microsoft/IBM "Multimedia Programming Interface and Data Specifications 1.0",
August 1991; RF64 sizes: EBU Tech 3306.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

_OPEN_ENDED: Final = 0x7FFF_0000
"""A size from here up is what recorders write when they cannot go back to fill it in."""


_BEXT_DAY: Final = 320
"""Where the day stands in a "bext" chunk: after a description, an originator and its reference."""
_BEXT_END: Final = 338


@dataclass(frozen=True, slots=True)
class SoundData:
    """Bytes of samples promised by the header, and bytes that the file holds."""

    promised: int
    held: int

    @property
    def missing(self) -> int:
        """Bytes promised and not there; 0 when the header left the length open."""
        if self.promised >= _OPEN_ENDED and self.promised != self.held:
            return 0
        return max(0, self.promised - self.held)


def sound_data(path: Path) -> SoundData | None:
    """Find the data chunk of a RIFF/WAVE or RF64 file; None if this is not one."""
    with path.open("rb") as file:
        head = file.read(12)
        if len(head) < 12 or head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
            return None
        length = path.stat().st_size
        return _seek_data(file, length)


def origination(path: Path) -> str | None:
    """Day and time at which a Broadcast Wave recording began, as written; None where there is none.

    No zone goes with them: they are those of the recorder's clock (EBU Tech 3285).
    """
    try:
        with path.open("rb") as file:
            head = file.read(12)
            if len(head) < 12 or head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
                return None
            while len(head := file.read(8)) == 8:
                kind, size = struct.unpack("<4sI", head)
                if kind == b"bext":
                    day, time = struct.unpack("10s8s", file.read(_BEXT_END)[_BEXT_DAY:])
                    joined = f"{day.decode('ascii')}T{time.decode('ascii')}"
                    return joined[:4] + "-" + joined[5:7] + "-" + joined[8:]
                file.seek(size + (size & 1), 1)
    except (OSError, struct.error, UnicodeDecodeError):
        pass  # what cannot be read here is told by whoever plays it
    return None


def _seek_data(file: BinaryIO, length: int) -> SoundData | None:
    wide: int | None = None
    while len(head := file.read(8)) == 8:
        kind, size = struct.unpack("<4sI", head)
        if kind == b"data":
            promised = wide if wide is not None and size == 0xFFFF_FFFF else size
            return SoundData(promised, length - file.tell())
        body = file.tell()
        if kind == b"ds64":
            sizes = file.read(16)
            if len(sizes) == 16:
                wide = struct.unpack("<QQ", sizes)[1]
        file.seek(body + size + (size & 1))
    return None
