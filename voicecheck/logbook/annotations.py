"""What people add to a record afterwards: a file of its own, chained to the journal's lines.

A finished journal takes no more lines, so remarks on it stand beside it. Each names the line
it is about with that line's own digest, and carries the digest of the remark before: nothing
is replaced, and a remark that was changed, moved or dropped from between is found. (Remarks
dropped from the end leave no trace here.) What a power cut left of a last line is passed over,
and moved beside the file when the next remark is added.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.journal.chain import FIRST, canonical, digest, seal
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.reader import open_plain
from voicecheck.journal.rfc3339 import format_utc
from voicecheck.journal.storage import JournalInUse, Storage, keep
from voicecheck.logbook.wording import printable

ANNOTATIONS: Final = "annotations.jsonl"
TORN: Final = "annotations.torn"
LONGEST: Final = 2000
"""Signs in one annotation."""
_LARGEST: Final = 16 * 2**20


@dataclass(frozen=True, slots=True)
class Annotation:
    """utc: RFC 3339. line: number of the journal line it is about; by: who, as given."""

    n: int
    utc: str
    line: int
    text: str
    by: str | None


def read_annotations(folder: Path) -> list[Annotation]:
    """All annotations of the session in `folder`, oldest first.

    Raises InputError at the line from which the chain, or the tie to the journal, is broken.
    """
    path = folder / ANNOTATIONS
    if not path.exists():
        return []
    lines = _journal_digests(folder)
    return [
        Annotation(n, found["utc"], found["line"], found["text"], found["by"])
        for n, found in enumerate(_read(path, lines))
    ]


def annotate(
    folder: Path, line: int, text: str, *, by: str | None = None, now: datetime
) -> Annotation:
    """Append an annotation about journal line `line` of the session in `folder`.

    now: the moment, with its zone. Raises VoicecheckError: an empty or overlong text, no such
    line, a chain that does not hold, or a disk that refuses.
    """
    text = printable(text).strip()
    by = printable(by).strip()[:80] or None if by else None
    if not text:
        raise VoicecheckError("an annotation needs words; write what was really said")
    if len(text) > LONGEST:
        raise VoicecheckError(f"an annotation has at most {LONGEST} signs; make it shorter")
    lines = _journal_digests(folder)
    if not 0 <= line < len(lines):
        raise VoicecheckError(f"{folder.name}: has no line {line}; reload the page")
    path = folder / ANNOTATIONS
    try:
        storage = _open(path)
    except OSError as error:
        raise _refused(path, error) from None
    try:
        # Under the file's lock: two writers cannot both be the next.
        before = list(_read(path, lines))
        if torn := _bytes(path)[1]:
            keep(path.with_name(TORN), torn + b"\n")
            storage.cut(storage.length - len(torn))
        prev = digest(canonical(before[-1])) if before else FIRST
        found: dict[str, object] = {
            "n": len(before),
            "prev": prev,
            "utc": format_utc(now),
            "line": line,
            "about": lines[line],
            "text": text,
            "by": by,
        }
        found["seal"] = seal(found)
        storage.append(canonical(found) + b"\n")
    except OSError as error:
        raise _refused(path, error) from None
    finally:
        storage.close()
    return Annotation(len(before), str(found["utc"]), line, text, by)


def _open(path: Path) -> Storage:
    if not path.exists():
        try:
            return Storage.create(path)
        except FileExistsError:
            pass  # somebody else was first
    try:
        return Storage.open(path)
    except JournalInUse as error:
        raise JournalInUse(f"{path}: somebody else adds a remark now; try again") from error


def _refused(path: Path, error: OSError) -> VoicecheckError:
    reason = error.strerror or str(error)
    return VoicecheckError(f"{path}: cannot be written ({reason}); free space or mend the disk")


def _journal_digests(folder: Path) -> list[str]:
    with open_plain(folder / JOURNAL) as file:
        return [digest(line) for line in file.read().split(b"\n")[:-1]]


def _read(path: Path, lines: list[str]) -> Iterator[dict[str, Any]]:
    prev = FIRST
    for n, raw in enumerate(_bytes(path)[0].split(b"\n")[:-1]):
        place = Place(str(path), n + 1)
        found = _checked(raw, place)
        tied = found["n"] == n and found["prev"] == prev and 0 <= found["line"] < len(lines)
        if not tied or found["about"] != lines[found["line"]]:
            raise InputError(
                place, "an annotation was changed, dropped or moved", "restore it from a copy"
            )
        prev = digest(raw)
        yield found


def _bytes(path: Path) -> tuple[bytes, bytes]:
    """The whole lines of the file, and what is left after the last. Raises VoicecheckError."""
    with open_plain(path) as file:
        data = file.read(_LARGEST + 1)
    if len(data) > _LARGEST:
        raise VoicecheckError(f"{path}: over {_LARGEST // 2**20} MiB; restore it from a copy")
    end = data.rfind(b"\n") + 1
    return data[:end], data[end:]


_FIELDS: Final = {
    "n": int,
    "prev": str,
    "utc": str,
    "line": int,
    "about": str,
    "text": str,
    "seal": str,
}


def _checked(raw: bytes, place: Place) -> dict[str, Any]:
    try:
        found = json.loads(raw)
        good = (
            canonical(found) == raw
            and set(found) == {*_FIELDS, "by"}
            and all(type(found[name]) is kind for name, kind in _FIELDS.items())
            and isinstance(found["by"], str | None)
            and found["seal"] == seal(found)
        )
    except (ValueError, TypeError, RecursionError):
        good = False
    if not good:
        raise InputError(place, "not an annotation", "restore it from a copy")
    checked: dict[str, Any] = found
    return checked
