"""A large logbook in little time: rows as they would be filed, put in without reading journals.

Every session is derived once in the usual way; the rest differ from it in name, date, airframe
and what was timed. The chain of entries is a real one. Journals are stored at their real size,
but only those of sessions that are opened later can be read; the rest is filler.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Table, insert, text, update

from voicecheck.journal.chain import canonical, digest
from voicecheck.journal.reader import read
from voicecheck.journal.rfc3339 import format_utc
from voicecheck.logbook.sessions import from_journal
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.derive import derive
from voicecheck.logbook.store.ledger import Entry, Filed, lock
from voicecheck.measure.invented_log import HALF, Invented, journal_of

AIRFRAMES: Final = 100
_CHUNK: Final = 2_000
_BAD_EVERY: Final = 20
"""One session in so many has a finding."""
_JOURNAL: Final = 22_000
"""Bytes of a packed journal of a real session of some four minutes."""
_BEGIN: Final = datetime(2020, 1, 1, 6, 0, tzinfo=UTC)


def registration(number: int) -> str:
    """Of the airframe that the session with this number is of."""
    return f"ZZ-F{number % AIRFRAMES:02d}"


def fill(database: Database, first: int, last: int) -> None:
    """Add the sessions numbered first up to (not with) last to a logbook that holds those before.

    One a day for each airframe.
    """
    with database.writing() as connection:
        lock(connection)
        if first == 0:
            _begin(connection)
        head = connection.execute(t.head.select()).one()
        prev, filed = head.hash, head.n  # sessions and entries are filed one for one here
        for at in range(first, last, _CHUNK):
            numbers = range(at, min(at + _CHUNK, last))
            prev = _chunk(connection, numbers, filed + 1 + at - first, prev)
        values = {"n": filed + last - first, "hash": prev}
        connection.execute(update(t.head).where(t.head.c.id == 1).values(**values))
        if connection.dialect.name == "postgresql":  # ids were given, not drawn
            connection.execute(
                text("SELECT setval(pg_get_serial_sequence('sessions', 'id'), :n)"),
                {"n": values["n"]},
            )
            for table in ("airframes", "checks"):
                connection.execute(
                    text(
                        f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), "
                        f"(SELECT max(id) FROM {table}))"
                    )
                )


def _example(bad: bool) -> Any:
    one = Invented("ZZ-F00", _BEGIN, bad=(3,) if bad else ())
    data, _ = journal_of(one)
    path = Path(one.id) / "journal.jsonl"
    return derive(from_journal(path.parent, read(path, data), {}))


def _begin(connection: Connection) -> None:
    connection.execute(
        insert(t.airframes),
        [
            {"id": k + 1, "registration": registration(k), "operator": "Hollin Air Ambulance",
             "type": "Tarn 40"}
            for k in range(AIRFRAMES)
        ],
    )  # fmt: skip
    names = ("item", "position_name", "expected")
    connection.execute(
        insert(t.checks),
        [
            {"id": k, **dict(zip(names, check, strict=True))}
            for k, check in enumerate(_example(False).checks, 1)
        ],
    )


def _chunk(connection: Connection, numbers: range, begin: int, prev: str) -> str:
    good, bad = _example(False), _example(True)
    rows: dict[str, list[dict[str, Any]]] = {
        table.name: []
        for table in (t.sessions, t.journals, t.items, t.findings, t.timings, t.entries)
    }
    packed = zlib.compress(b"filler")
    for key, number in enumerate(numbers, begin):
        like = bad if number % _BAD_EVERY == 7 else good
        day = number // AIRFRAMES
        airframe = number % AIRFRAMES + 1
        started = _BEGIN + timedelta(days=day, minutes=number % AIRFRAMES)
        name = f"{started:%Y%m%dT%H%M%SZ}-{registration(number)}-{number:08x}"
        own = {"session_id": key, "airframe_id": airframe}
        came = {**own, "utc": format_utc(started), "filed": key}
        seal = hashlib.sha256(name.encode()).hexdigest()
        utc = format_utc(started)
        rows["sessions"].append(
            {**like.session, "id": key, "session": name, "airframe_id": airframe, "started": utc,
             "ended": format_utc(started + timedelta(seconds=130)), "sha256": seal, "head": seal,
             "size": 100_000, "machine": "invented", "posted": utc, "signature": None,
             "purged": None, "filed": key}
        )  # fmt: skip
        filler = hashlib.shake_128(name.encode()).digest(_JOURNAL - len(packed))
        rows["journals"].append({"session_id": key, "data": packed + filler})
        for k, item in enumerate(like.items, 1):
            rows["items"].append({**item, "session_id": key, "check_id": k, "utc": utc})
        rows["findings"] += [{**finding, **came} for finding in like.findings]
        out = 4.0 + ((number * 7919) % 101 - 50) / 250 + 0.0005 * day
        rows["timings"] += [
            {**timing, **own, "utc": utc, "low": out - HALF, "high": out + HALF}
            for timing in like.timings
        ]
        anchor = {"session": name, "lines": like.session["lines"], "head": seal, "sha256": seal,
                  "size": 100_000}  # fmt: skip
        entry = Entry(key, utc, Filed.SESSION.value, name, digest(canonical(anchor)), prev)
        prev = entry.hash
        values = {slot: getattr(entry, slot) for slot in Entry.__slots__}
        rows["entries"].append({**values, "hash": prev, "signature": None})
    for name in ("sessions", "journals", "items", "findings", "timings", "entries"):
        _insert(connection, t.METADATA.tables[name], rows[name])
    return prev


def _insert(connection: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    if rows:
        connection.execute(insert(table), list(_plain(table, rows)))


def _plain(table: Table, rows: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    columns = [column.name for column in table.columns if column.name in rows[0]]
    for row in rows:
        yield {name: row[name] for name in columns}
