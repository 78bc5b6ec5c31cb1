"""Everything filed as rows for other programs: CSV (RFC 4180) or JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from voicecheck.caution import CAUTION
from voicecheck.logbook.open_items import text_of, what_of

if TYPE_CHECKING:
    from voicecheck.logbook.discrepancies import Discrepancy

SCHEMA: Final = 1
WHAT: Final = ("sessions", "discrepancies", "timings", "items")
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")

Record = Mapping[str, Any]


def discrepancy_row(entry: Discrepancy, now: datetime) -> dict[str, Any]:
    """One discrepancy as a flat row; its name is that of its first finding.

    found: the operator's calendar day, in `zone`.
    """
    last_action = entry.actions[-1] if entry.actions else None
    due = entry.due
    return {
        "finding": entry.name,
        "registration": entry.first.airframe,
        "status": entry.status.value,
        "due": due.isoformat() if due is not None else None,
        "overdue": entry.overdue(now),
        "item": entry.first.item,
        "position": entry.first.position_name,
        "lamp": entry.lamp,
        "what": what_of(entry),
        "chapter": entry.last.chapter,
        "mel_item": entry.last.mel_item,
        "category": entry.last.category,
        "found": entry.first.day.isoformat(),
        "zone": entry.first.zone,
        "first": entry.first.utc,
        "last": entry.last.utc,
        "times": len(entry.findings),
        "repeats": entry.repeats.reference if entry.repeats is not None else None,
        "action": last_action.kind if last_action is not None else None,
        "action_at": last_action.at if last_action is not None else None,
        "action_by": last_action.who if last_action is not None else None,
        "reference": last_action.reference if last_action is not None else None,
        "note": last_action.note if last_action is not None else None,
        "text": text_of(entry),
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
