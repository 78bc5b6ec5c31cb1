"""Writing the journal: a line per fact, on the disk before the session goes on.

A disk that is full must not stop a session in the cockpit, and must not lose a word of
it: a line that cannot be written stays in memory, in order, and is written before the
next one. `append` tells by raising; the caller warns the crew and goes on.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

from voicecheck.errors import Place, VoicecheckError
from voicecheck.journal.chain import FIRST, canonical, digest, seal
from voicecheck.journal.format import JOURNAL, MAX_LINE, OWN, TORN, Kind
from voicecheck.journal.header import Header, header_from
from voicecheck.journal.reader import State, Verification, open_plain, verify
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.journal.storage import Storage, keep, sync_folder


class JournalUnwritable(VoicecheckError):
    """The disk refused. `pending` lines are kept in memory for the next attempt."""

    def __init__(self, path: Path, reason: str, pending: int) -> None:
        kept = f"; {pending} line(s) kept in memory" if pending else ""
        super().__init__(f"{path}: cannot be written ({reason}){kept}; free space or mend the disk")
        self.path = path
        self.pending = pending


class JournalWriter:
    """The one writer of one journal; holds its lock until `close`."""

    def __init__(self, storage: Storage, n: int, prev: str) -> None:
        self.path = storage.path
        self._storage = storage
        self._n = n
        self._prev = prev
        self._waiting: deque[bytes] = deque()
        self._finished = False
        self._closed = False

    @classmethod
    def create(cls, folder: Path, header: Header | Mapping[str, object]) -> Self:
        """Start ``folder/journal.jsonl`` with its header line; its utc is `started`.

        Raises VoicecheckError when the header is incomplete or the session exists, and
        JournalUnwritable, leaving no file behind, when the disk refuses.
        """
        path = folder / JOURNAL
        if isinstance(header, Header):
            fields: dict[str, object] = header.model_dump(by_alias=True)
        else:
            fields = dict(header)
        checked = header_from(fields, Place(str(path), 1))
        try:
            storage = Storage.create(path)
        except FileExistsError as error:
            raise VoicecheckError(
                f"{path}: this session exists; resume it or start one with a new id"
            ) from error
        except OSError as error:
            raise JournalUnwritable(path, _reason(error), 0) from error
        writer = cls(storage, 0, FIRST)
        try:
            writer._write(Kind.HEADER, fields, checked.started)
            sync_folder(folder)
        except (OSError, VoicecheckError) as error:
            path.unlink(missing_ok=True)
            storage.close()
            if isinstance(error, OSError):
                raise JournalUnwritable(path, _reason(error), 0) from error
            raise
        return writer

    @classmethod
    def reopen(cls, path: Path, now: datetime | None = None) -> Self:
        """Go on with an unfinished journal.

        A last line that a crash cut short is moved to ``journal.torn`` and a remark
        line, dated `now` (the system's clock when None), says so. Raises VoicecheckError
        when the chain is broken or a summary already ends it, JournalInUse, and
        JournalUnwritable.
        """
        try:
            storage = Storage.open(path)
        except OSError as error:
            raise VoicecheckError(
                f"{path}: cannot be opened ({_reason(error)}); name an unfinished journal"
            ) from error
        try:
            found = verify(path)
            _refuse_unless_open(path, found)
            writer = cls(storage, found.lines, found.head)
            if found.state is State.TORN:
                torn = _move_torn(path, storage)
                writer.append(
                    Kind.REMARK,
                    {
                        "text": f"{len(torn)} bytes of a line cut short by a crash were "
                        f"moved to {TORN}",
                        "sha256": digest(torn),
                    },
                    now or datetime.now(UTC),
                )
        except OSError as error:
            storage.close()
            raise JournalUnwritable(path, _reason(error), 0) from error
        except BaseException:
            storage.close()
            raise
        return writer

    @property
    def pending(self) -> int:
        """Lines that are in memory and not yet on the disk."""
        return len(self._waiting)

    def append(self, kind: Kind | str, fields: Mapping[str, object], utc: datetime | str) -> None:
        """Add one line and put it, with all that wait before it, on the disk.

        Raises JournalUnwritable when the disk refuses: the line then waits, in its
        place in the chain, and nothing need be repeated. Raises VoicecheckError for a
        line that the journal cannot hold, which is then not added.
        """
        self._write(kind, fields, utc)

    def flush(self) -> None:
        """Try again to write what waits. Raises JournalUnwritable when it still cannot."""
        while self._waiting:
            try:
                self._storage.append(self._waiting[0])
            except OSError as error:
                raise JournalUnwritable(self.path, _reason(error), self.pending) from error
            self._waiting.popleft()

    def unwritten(self) -> bytes:
        """The waiting lines as they would stand in the file, to be saved elsewhere."""
        return b"".join(self._waiting)

    def close(self) -> None:
        """Write what waits and give up the lock. Raises JournalUnwritable; `unwritten` stays."""
        if self._closed:
            return
        self._closed = True
        try:
            self.flush()
        finally:
            self._storage.close()

    def _write(self, kind: Kind | str, fields: Mapping[str, object], utc: datetime | str) -> None:
        if self._closed or self._finished:
            state = "closed" if self._closed else "finished by its summary"
            raise VoicecheckError(f"{self.path}: the journal is {state}; start a new session")
        self._waiting.append(self._line(kind, fields, utc))
        self._n += 1
        self._prev = digest(self._waiting[-1][:-1])
        self._finished = kind == Kind.SUMMARY
        self.flush()

    def _line(self, kind: Kind | str, fields: Mapping[str, object], utc: datetime | str) -> bytes:
        """The next line with its newline. Raises VoicecheckError."""
        if taken := sorted((OWN | {"seal"}) & fields.keys()):
            raise VoicecheckError(f"{self.path}: {', '.join(taken)} is set by the journal itself")
        if self._n and kind == Kind.HEADER:
            raise VoicecheckError(f"{self.path}: a journal has one header")
        try:
            moment = parse(utc) if isinstance(utc, str) else utc
            line: dict[str, object] = {
                **fields,
                "n": self._n,
                "prev": self._prev,
                "kind": Kind(kind).value,
                "utc": format_utc(moment),
            }
            if kind == Kind.SUMMARY:
                line["seal"] = seal(line)
            data = canonical(line)
        except (ValueError, TypeError) as error:
            raise VoicecheckError(f"{self.path}: a line cannot be written: {error}") from error
        if len(data) >= MAX_LINE:
            raise VoicecheckError(
                f"{self.path}: a line of {len(data)} bytes is over the limit of {MAX_LINE}"
            )
        return data + b"\n"


def _refuse_unless_open(path: Path, found: Verification) -> None:
    if found.state is State.WHOLE:
        raise VoicecheckError(f"{path}: finished by its summary; start a new session")
    if found.state is State.BROKEN:
        raise VoicecheckError(
            f"{path}:{found.line}: {found.problem}; a changed journal is not continued, "
            "start a new session"
        )


def _move_torn(path: Path, storage: Storage) -> bytes:
    """Keep the bytes after the last newline beside the journal, then cut them off."""
    with open_plain(path) as file:
        file.seek(max(0, storage.length - MAX_LINE - 1))
        tail = file.read()
    torn = tail[tail.rfind(b"\n") + 1 :]
    keep(path.with_name(TORN), torn + b"\n")
    storage.cut(storage.length - len(torn))
    return torn


def _reason(error: OSError) -> str:
    return error.strerror or str(error)
