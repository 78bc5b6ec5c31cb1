"""Reading a journal back, and telling whether it is still the one that was written.

What the chain shows: any byte changed, any line dropped, added, doubled or moved, up to
the last line. What it cannot show by itself: whole lines removed from the *end*, or a
last line changed, in a journal that has no summary line. Such a journal is therefore
never called whole but "unfinished". Nor is there a secret in the chain: whoever rewrites
every line from the change on makes a new whole chain. Against that stands the head hash
that the report prints, once it is filed somewhere else.
"""

from __future__ import annotations

import enum
import io
import json
import math
import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.journal.chain import FIRST, canonical, digest, seal
from voicecheck.journal.format import MAX_FILE, MAX_LINE, OWN, Kind, Line
from voicecheck.journal.header import Header, header_from
from voicecheck.journal.rfc3339 import parse


class State(enum.StrEnum):
    """What stands in the file, best first."""

    WHOLE = "whole"
    UNFINISHED = "unfinished"
    """The chain holds but no summary ends it: a crash, or lines cut from the end."""
    TORN = "torn"
    """As unfinished, and the last line is cut short."""
    BROKEN = "broken"
    """Changed, dropped, moved or added lines or bytes."""


@dataclass(frozen=True, slots=True)
class Verification:
    """lines: how many complete ones hold. head: hash of the last of these (64 hex digits).

    problem and line (counted from 1) say what is wrong; both None when whole.
    """

    state: State
    problem: str | None
    line: int | None
    lines: int
    head: str

    @property
    def ok(self) -> bool:
        """Whole: finished and unchanged. Nothing less counts."""
        return self.state is State.WHOLE

    @property
    def intact(self) -> bool:
        """No sign of a change in what is there, though the end may be missing."""
        return self.state is not State.BROKEN


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal as read: `lines` includes line 0; `torn` says that a cut-off rest follows."""

    header: Header
    lines: tuple[Line, ...]
    torn: bool
    verification: Verification

    @property
    def summary(self) -> Line | None:
        """The summary line, or None in an unfinished journal."""
        last = self.lines[-1]
        return last if last.kind is Kind.SUMMARY else None


def read(path: Path, data: bytes | None = None) -> Journal:
    """The journal at `path`, even if its chain is broken (see its `verification`).

    data: the bytes to read instead of the file's; `path` then only names them in errors.
    Raises InputError (file:line) for what cannot be read as a journal at all.
    """
    scan = _Scan(path, data)
    lines = tuple(scan)
    if not lines:
        raise InputError(
            Place(str(path), 1), "no complete line; not a journal", "restore it from a copy"
        )
    assert scan.header is not None  # a first line is accepted only with a good header
    return Journal(scan.header, lines, scan.torn > 0, scan.verification())


def verify(path: Path, data: bytes | None = None) -> Verification:
    """Follow the chain from the first line to the last; a bad content is a result.

    data: as for `read`. Raises VoicecheckError only when the file cannot be opened.
    """
    scan = _Scan(path, data)
    try:
        for _ in scan:
            pass
    except InputError as error:
        scan.blame(error.place.line or 1, error.problem)
    return scan.verification()


def open_plain(path: Path) -> BinaryIO:
    """Open a regular file for reading; a link or a device is refused (VoicecheckError)."""
    try:
        fd = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        raise VoicecheckError(
            f"{path}: cannot be read ({error.strerror}); name a journal file"
        ) from error
    status = os.fstat(fd)
    if not stat.S_ISREG(status.st_mode) or status.st_size > MAX_FILE:
        os.close(fd)
        raise VoicecheckError(
            f"{path}: not a regular file of at most {MAX_FILE // 2**20} MiB; name a journal file"
        )
    return os.fdopen(fd, "rb")


class _Scan:
    """One pass over the file: yields lines, remembers the first break of the chain."""

    def __init__(self, path: Path, data: bytes | None = None) -> None:
        self.path = path
        self._data = data
        self.header: Header | None = None
        self.torn = 0
        """Bytes after the last newline."""
        self._good = 0
        self._head = FIRST
        self._finished = False
        self._problem: tuple[int, str] | None = None

    def __iter__(self) -> Iterator[Line]:
        prev = FIRST
        with open_plain(self.path) if self._data is None else io.BytesIO(self._data) as file:
            number = 0
            while raw := file.readline(MAX_LINE + 1):
                number += 1
                if not raw.endswith(b"\n"):
                    if len(raw) > MAX_LINE:
                        raise self._error(number, f"line longer than {MAX_LINE} bytes")
                    self.torn = len(raw)
                    return
                data = raw[:-1]
                line, found = self._line(data, number)
                self._check(line, found, data, number, prev)
                prev = digest(data)
                if self._problem is None:
                    self._good, self._head = number, prev
                self._finished = line.kind is Kind.SUMMARY
                yield line

    def verification(self) -> Verification:
        if self._problem is not None:
            number, problem = self._problem
            return Verification(State.BROKEN, problem, number, self._good, self._head)
        if not self._good:
            return Verification(State.BROKEN, "no complete line; not a journal", 1, 0, FIRST)
        if self.torn and self._finished:
            problem = f"{self.torn} bytes after the summary: added"
            return Verification(State.BROKEN, problem, self._good + 1, self._good, self._head)
        if self.torn:
            problem = f"the last line is cut short ({self.torn} bytes without an end)"
            return Verification(State.TORN, problem, self._good + 1, self._good, self._head)
        if not self._finished:
            problem = "no summary line ends it; lines missing from the end would not show"
            return Verification(State.UNFINISHED, problem, self._good, self._good, self._head)
        return Verification(State.WHOLE, None, None, self._good, self._head)

    def blame(self, number: int, problem: str) -> None:
        """Remember the first break only; what follows one is mostly its echo."""
        if self._problem is None:
            self._problem = (number, problem)

    def _error(self, number: int, problem: str) -> InputError:
        return InputError(Place(str(self.path), number), problem, "restore it from a copy")

    def _line(self, data: bytes, number: int) -> tuple[Line, dict[str, object]]:
        """Parse one line and check its shape. Raises InputError."""
        found = self._object(data, number)
        n, kind, utc = found.get("n"), found.get("kind"), found.get("utc")
        if type(n) is not int or not isinstance(utc, str):
            raise self._error(number, "`n` must be a number and `utc` a time")
        if not isinstance(kind, str) or kind not in {known.value for known in Kind}:
            raise self._error(number, f"unknown kind of line {str(kind)[:40]!r}")
        try:
            parse(utc)
        except VoicecheckError as error:
            raise self._error(number, f"`utc`: {error}") from error
        fields = {key: value for key, value in found.items() if key not in OWN}
        if number == 1:
            if kind != Kind.HEADER:
                raise self._error(1, f"the first line is a {kind}, not a header")
            self.header = header_from(fields, Place(str(self.path), 1))
        return Line(n, Kind(kind), utc, fields), found

    def _object(self, data: bytes, number: int) -> dict[str, object]:
        try:
            found = json.loads(data.decode("utf-8"), parse_float=_finite, parse_constant=_finite)
        except (ValueError, RecursionError) as error:
            raise self._error(number, f"not a line of JSON ({type(error).__name__})") from error
        if not isinstance(found, dict):
            raise self._error(number, "not a JSON object")
        return found

    def _check(
        self, line: Line, found: dict[str, object], data: bytes, number: int, prev: str
    ) -> None:
        """Hold one line against the chain so far."""
        if line.n != number - 1:
            self.blame(
                number, f"has n {line.n} where {number - 1} is due: dropped, added or moved lines"
            )
        elif found.get("prev") != prev:
            self.blame(
                number,
                "does not carry the hash of the line before: one of the two was changed",
            )
        elif number > 1 and line.kind is Kind.HEADER:
            self.blame(number, "a second header")
        elif self._finished:
            self.blame(number, "a line after the summary: added")
        elif line.kind is Kind.SUMMARY and line.fields.get("seal") != seal(found):
            self.blame(number, "the summary line does not match its seal: changed")
        elif not _is_canonical(found, data):
            self.blame(number, "not as the journal writes it: changed")


def _finite(text: str) -> float:
    """A number of JSON; what is none, or beyond all bounds, is refused (ValueError)."""
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"not a number that JSON can hold: {text[:40]}")
    return value


def _is_canonical(found: dict[str, object], data: bytes) -> bool:
    try:
        return canonical(found) == data
    except (ValueError, TypeError):
        return False
