"""Filing a session: all of it in one transaction, once, however often it is tried.

Killed, out of space or cut off in the middle, the transaction leaves nothing behind and the
session is filed at the next attempt; filed already, the attempt changes nothing.
"""

from __future__ import annotations

import enum
import socket
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, Table, delete, insert, select, update

from voicecheck.errors import VoicecheckError
from voicecheck.journal.chain import digest
from voicecheck.journal.format import JOURNAL, MAX_FILE
from voicecheck.journal.reader import State, open_plain, read
from voicecheck.journal.rfc3339 import format_utc
from voicecheck.logbook.crew import Names, names_in
from voicecheck.logbook.sessions import Session, from_journal
from voicecheck.logbook.signing import SIGNATURE, check_head
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.derive import Rows, derive
from voicecheck.logbook.store.ledger import Filed, Sign, append, coming, lock


class Posted(enum.StrEnum):
    """What an attempt did."""

    NEW = "filed"
    LONGER = "filed again, longer"
    """It had been filed unfinished, and has gone on since."""
    KNOWN = "filed before"


@dataclass(frozen=True, slots=True)
class Copy:
    """A session as it is to be filed: the journal's bytes, and what they say."""

    session: Session
    data: bytes
    names: Names
    signature: str | None


def copy_of(folder: Path) -> Copy:
    """Read a session folder once. A line cut short by a crash is left out, as in `resume`.

    Raises VoicecheckError for what cannot be read, was changed, or has a wrong signature.
    """
    path = folder / JOURNAL
    with open_plain(path) as file:
        data = file.read(MAX_FILE + 1)
    journal = read(path, data)
    if journal.verification.state is State.TORN:
        data = data[: data.rfind(b"\n") + 1]
        journal = read(path, data)
    if journal.verification.state is State.BROKEN:
        problem = journal.verification
        raise VoicecheckError(
            f"{path}:{problem.line}: {problem.problem}; a changed journal is not filed"
        )
    names = names_in(folder)
    session = from_journal(folder, journal, names)
    if session.crew.problem is not None:
        raise VoicecheckError(f"{folder}: {session.crew.problem}; restore the folder from a copy")
    signature = _signature(folder)
    if signature is not None:
        check_head(signature, session.id, journal.verification)
    return Copy(session, data, session.crew.names, signature)


def post(database: Database, copy: Copy, sign: Sign | None = None) -> Posted:
    """File one session.

    Raises DatabaseAway, and VoicecheckError for a journal that contradicts the one that was
    filed under the same id.
    """
    rows = derive(copy.session)
    packed = zlib.compress(copy.data, 6)
    with database.writing() as connection:
        lock(connection)
        row = connection.execute(
            select(t.sessions.c.id, t.sessions.c.sha256, t.sessions.c.purged).where(
                t.sessions.c.session == copy.session.id
            )
        ).one_or_none()
        if row is not None:
            if row.purged is not None or row.sha256 == digest(copy.data):
                return Posted.KNOWN
            if not _goes_on(connection, row.id, copy):
                return Posted.KNOWN
        session_id = _file(connection, copy, rows, packed, row.id if row is not None else None)
        now = format_utc(datetime.now(UTC))
        append(connection, Filed.SESSION, copy.session.id, anchor(copy), now, sign)
        _crew(connection, session_id, copy.names)
    return Posted.NEW if row is None else Posted.LONGER


def anchor(copy: Copy) -> dict[str, Any]:
    """What the logbook's chain vouches for, of one session."""
    found = copy.session.journal.verification
    return {
        "session": copy.session.id,
        "lines": found.lines,
        "head": found.head,
        "sha256": digest(copy.data),
        "size": len(copy.data),
    }


def stored_journal(connection: Connection, session_id: int) -> bytes:
    """The journal as filed. Raises VoicecheckError when it is not there or not whole."""
    packed = connection.execute(
        select(t.journals.c.data).where(t.journals.c.session_id == session_id)
    ).scalar_one_or_none()
    if packed is None:
        raise VoicecheckError("the journal was purged; only its anchor is left")
    unpack = zlib.decompressobj()
    try:
        data = unpack.decompress(packed, MAX_FILE + 1)
    except zlib.error as error:
        raise VoicecheckError(
            "the journal in the database cannot be unpacked: changed; restore it from a copy"
        ) from error
    if not unpack.eof or unpack.unused_data:
        raise VoicecheckError("the journal in the database has bytes cut off or added: changed")
    return data


def _goes_on(connection: Connection, session_id: int, copy: Copy) -> bool:
    """Is this journal the filed one and more? False: it is an earlier part of it."""
    filed = stored_journal(connection, session_id)
    if copy.data.startswith(filed):
        return True
    if filed.startswith(copy.data):
        return False
    raise VoicecheckError(
        f"{copy.session.folder / JOURNAL}: differs from the journal that was filed as "
        f"{copy.session.id}; compare both with `voicecheck log verify`, nothing was replaced"
    )


def _file(
    connection: Connection, copy: Copy, rows: Rows, packed: bytes, session_id: int | None
) -> int:
    airframe_id = _airframe(connection, copy.session)
    own = {
        **rows.session,
        "airframe_id": airframe_id,
        "session": copy.session.id,
        "sha256": digest(copy.data),
        "size": len(copy.data),
        "machine": socket.gethostname(),
        "posted": format_utc(datetime.now(UTC)),
        "signature": copy.signature,
    }
    if session_id is None:
        new = insert(t.sessions).values(**own, filed=coming(connection))
        made = connection.execute(new.returning(t.sessions.c.id))
        session_id = int(made.scalar_one())
        connection.execute(insert(t.journals).values(session_id=session_id, data=packed))
    else:
        connection.execute(update(t.sessions).where(t.sessions.c.id == session_id).values(**own))
        connection.execute(
            update(t.journals).where(t.journals.c.session_id == session_id).values(data=packed)
        )
        for table in (t.items, t.timings):
            connection.execute(delete(table).where(table.c.session_id == session_id))
    both = {"session_id": session_id, "airframe_id": airframe_id}
    found = {**both, "filed": coming(connection)}
    checks = _checks(connection, rows.checks)
    _many(
        connection,
        t.items,
        [
            {**item, "session_id": session_id, "check_id": checks[check]}
            for item, check in zip(rows.items, rows.checks, strict=True)
        ],
    )
    _many(connection, t.timings, [{**timing, **both} for timing in rows.timings])
    _findings(connection, session_id, [{**finding, **found} for finding in rows.findings])
    return session_id


def _findings(connection: Connection, session_id: int, rows: list[dict[str, Any]]) -> None:
    """Put the findings in place. One that was acted on while provisional keeps its row.

    What the crew has since withdrawn, or called otherwise, is no such finding any more: it stands
    no longer, and its row is kept for the sake of its actions alone. What was known before keeps
    the number of its entry.
    """
    old = connection.execute(select(t.findings).where(t.findings.c.session_id == session_id)).all()
    kept = [row for row in old if _put_aside(connection, row.id)]
    for new in rows:
        new["filed"] = next((row.filed for row in old if _is_same(row, new)), new["filed"])
    for row in kept:
        again = [one for one in rows if _is_same(row, one)][-1:]
        for found in again:
            connection.execute(update(t.findings).where(t.findings.c.id == row.id).values(**found))
            rows.remove(found)
    _many(connection, t.findings, rows)


def _put_aside(connection: Connection, finding_id: int) -> bool:
    """Take a finding out of the way of the new numbers; True where it stays, for its actions."""
    acted = select(t.actions.c.id).where(t.actions.c.finding_id == finding_id).limit(1)
    if connection.execute(acted).first() is None:
        connection.execute(delete(t.findings).where(t.findings.c.id == finding_id))
        return False
    away = update(t.findings).where(t.findings.c.id == finding_id)
    connection.execute(away.values(ordinal=-finding_id, superseded=True))
    return True


def _is_same(old: Row[Any], new: Mapping[str, Any]) -> bool:
    """Whether a finding is the one that was filed before: the same defect, not called anew.

    A provisional finding is dated when its line was written, a final one when it was called.
    """
    same = all(getattr(old, name) == new[name] for name in ("item", "what", "lamps"))
    return same and not old.superseded and bool(new["utc"] <= old.utc)


def _many(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    if rows:
        connection.execute(insert(table), rows)


def _airframe(connection: Connection, session: Session) -> int:
    header, summary = session.journal.header, session.summary
    known = connection.execute(
        select(t.airframes).where(t.airframes.c.registration == header.airframe)
    ).one_or_none()
    told: dict[str, Any] = {"operator": header.operator}
    if summary is not None:
        told["type"] = summary.type
    if known is None:
        new = insert(t.airframes).values(registration=header.airframe, **told)
        return int(connection.execute(new.returning(t.airframes.c.id)).scalar_one())
    connection.execute(update(t.airframes).where(t.airframes.c.id == known.id).values(**told))
    return int(known.id)


def _checks(
    connection: Connection, wanted: Sequence[tuple[str, str, str]]
) -> dict[tuple[str, str, str], int]:
    """The ids of checks; what is not there yet is added (under the lock, so once)."""
    columns = (t.checks.c.item, t.checks.c.position_name, t.checks.c.expected)
    known: dict[tuple[str, str, str], int] = {}
    if wanted:
        names = sorted({check[0] for check in wanted})
        found = connection.execute(select(t.checks.c.id, *columns).where(columns[0].in_(names)))
        known = {(row.item, row.position_name, row.expected): row.id for row in found}
    for check in dict.fromkeys(wanted):
        if check not in known:
            values = dict(zip(("item", "position_name", "expected"), check, strict=True))
            made = connection.execute(insert(t.checks).values(**values).returning(t.checks.c.id))
            known[check] = int(made.scalar_one())
    return known


def _crew(connection: Connection, session_id: int, names: Names) -> None:
    """The names that came along. None are taken away here: that is the purge's business."""
    for role, entry in names.items():
        known = select(t.crews.c.role).where(
            t.crews.c.session_id == session_id, t.crews.c.role == role
        )
        if connection.execute(known).first() is None:
            values = {"session_id": session_id, "role": role, "name": entry.name}
            connection.execute(insert(t.crews).values(**values, salt=entry.salt))


def _signature(folder: Path) -> str | None:
    path = folder / SIGNATURE
    if not path.exists() and not path.is_symlink():
        return None
    with open_plain(path) as file:
        return file.read(4096).decode("utf-8", "replace")
