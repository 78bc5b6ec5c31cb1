"""The journal as a session uses it: a full disk is told once and loses nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Protocol

from voicecheck.journal.format import Kind
from voicecheck.journal.writer import JournalUnwritable, JournalWriter


class Writes(Protocol):
    """Where a session's lines go."""

    @property
    def refused(self) -> bool:
        """Whether the disk did not take the last line (it then waits in memory)."""

    def write(self, kind: Kind, fields: Mapping[str, object], at: float) -> None:
        """Append one line dated `at` seconds of stream time."""


class Record:
    """Writes lines at stream times. warn is called once each time the disk begins to refuse."""

    def __init__(
        self, writer: JournalWriter, started: datetime, warn: Callable[[str], None]
    ) -> None:
        self._writer = writer
        self._started = started
        self._warn = warn
        self.refused = False

    def write(self, kind: Kind, fields: Mapping[str, object], at: float) -> None:
        """Append one line dated `at` seconds after the start."""
        try:
            self._writer.append(kind, fields, self._started + timedelta(seconds=at))
            self.refused = False
        except JournalUnwritable as error:
            if not self.refused:
                self.refused = True
                self._warn(str(error))

    @property
    def pending(self) -> int:
        """Lines in memory that the disk did not take."""
        return self._writer.pending

    def close(self) -> bytes:
        """Close the journal; returns what the disk still refuses, for the caller to show."""
        try:
            self._writer.close()
        except JournalUnwritable:
            return self._writer.unwritten()
        return b""
