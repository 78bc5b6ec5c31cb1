"""Everything filed as rows for other programs: CSV (RFC 4180) or JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, select

from voicecheck.caution import CAUTION
from voicecheck.logbook.discrepancies import Discrepancy
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.reading import airframe_id, of_airframe

SCHEMA: Final = 1
WHAT: Final = ("sessions", "discrepancies", "timings", "items")
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")

Record = Mapping[str, Any]


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


def discrepancy_row(entry: Discrepancy, now: datetime) -> dict[str, Any]:
    """One discrepancy as a flat row; its name is that of its first finding."""
    last_action = entry.actions[-1] if entry.actions else None
    due = entry.due
    return {
        "finding": entry.first.name,
        "registration": entry.first.airframe,
        "status": entry.status.value,
        "due": due.isoformat() if due is not None else None,
        "overdue": entry.overdue(now),
        "item": entry.first.item,
        "position": entry.first.position_name,
        "what": entry.last.what,
        "chapter": entry.last.chapter,
        "mel_item": entry.last.mel_item,
        "category": entry.last.category,
        "first": entry.first.utc,
        "last": entry.last.utc,
        "times": len(entry.findings),
        "repeats": entry.repeats.reference if entry.repeats is not None else None,
        "action": last_action.kind if last_action is not None else None,
        "action_at": last_action.at if last_action is not None else None,
        "action_by": last_action.who if last_action is not None else None,
        "reference": last_action.reference if last_action is not None else None,
        "note": last_action.note if last_action is not None else None,
        "text": entry.last.text,
    }


def as_json(what: str, rows: Iterable[Record]) -> str:
    """One JSON object with the caution and the rows."""
    body = {"schema": SCHEMA, "caution": CAUTION, "what": what, "rows": list(rows)}
    return json.dumps(body, ensure_ascii=False, indent=1) + "\n"


def as_csv(rows: Iterable[Record]) -> str:
    """A heading and a line for each row. Text that a spreadsheet would run gets a quote first."""
    made = io.StringIO()
    kept = list(rows)
    if kept:
        writer = csv.DictWriter(made, list(kept[0]))
        writer.writeheader()
        writer.writerows({key: _cell(value) for key, value in row.items()} for row in kept)
    return made.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value
