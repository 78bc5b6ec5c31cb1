"""Rows of everything filed, for logbook.export to write."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, select

from voicecheck.logbook.export import Record, discrepancy_row
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.reading import airframe_id, of_airframe


def rows_of(connection: Connection, what: str, airframe: str | None, now: datetime) -> list[Record]:
    """The rows of one of WHAT, of one airframe or of all, oldest first."""
    if what == "discrepancies":
        return [discrepancy_row(entry, now) for entry in of_airframe(connection, airframe)]
    number = airframe_id(connection, airframe) if airframe is not None else None
    session, registration = t.sessions.c.session, t.airframes.c.registration
    names: tuple[str, ...]
    source = t.sessions.join(t.airframes, t.airframes.c.id == t.sessions.c.airframe_id)
    if what == "sessions":
        names = ("checklist", "started", "ended", "duration_s", "complete", "result", "state",
                 "lines", "head", "machine", "posted", "purged")  # fmt: skip
        query = select(session, registration, *(t.sessions.c[name] for name in names))
    elif what == "timings":
        source = source.join(t.timings, t.timings.c.session_id == t.sessions.c.id)
        names = ("item", "utc", "lower", "upper", "low", "high", "verdict", "asked")
        query = select(session, registration, *(t.timings.c[name] for name in names))
    else:
        source = source.join(t.items, t.items.c.session_id == t.sessions.c.id).join(
            t.checks, t.checks.c.id == t.items.c.check_id
        )
        query = select(
            session,
            registration,
            t.checks.c.item,
            t.checks.c.position_name,
            t.checks.c.expected,
            t.items.c.outcome,
            t.items.c.called,
            t.items.c.reason,
            t.items.c.utc,
        )
    query = query.select_from(source).order_by(t.sessions.c.started, session)
    if number is not None:
        query = query.where(t.sessions.c.airframe_id == number)
    return [dict(row) for row in connection.execute(query).mappings()]
