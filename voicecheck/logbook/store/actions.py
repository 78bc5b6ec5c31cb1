"""What was done about a finding: deferred, cleared, reopened, corrected. Only ever appended."""

from __future__ import annotations

import enum
import re
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.deferral import due
from voicecheck.logbook.lamps import lamps_from
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.ledger import Filed, Sign, append, coming, lock
from voicecheck.logbook.store.reading import of_airframe


class Act(enum.StrEnum):
    """deferred and cleared need a reference: the entry of the technical log that says so."""

    DEFERRED = "deferred"
    CLEARED = "cleared"
    REOPENED = "reopened"
    CORRECTED = "corrected"


@dataclass(frozen=True, slots=True)
class Deed:
    """What was done, by whom, when.

    at: with its zone, not before the finding and not ahead of this machine's clock: a sign-off
    dated ahead would take every finding until then for what it signed off. category, days: of a
    deferral, where they are not those of the airframe's data.
    """

    kind: Act
    who: str
    at: datetime
    reference: str = ""
    note: str = ""
    category: str | None = None
    days: int | None = None

    def check(self) -> None:
        """Raise VoicecheckError for what is missing, or has not come yet."""
        if not self.who.strip():
            raise VoicecheckError("an action needs who did it; say it with --by")
        if self.kind in (Act.DEFERRED, Act.CLEARED) and not self.reference.strip():
            raise VoicecheckError(
                "name the entry of the technical log with --reference; without one it is not done"
            )
        if self.kind is Act.CORRECTED and not self.note.strip():
            raise VoicecheckError("a correction needs its text; say it with --note")
        if self.at > datetime.now(UTC):
            raise VoicecheckError(
                f"{format_utc(self.at)} has not come yet; mend the time given with --at, or this "
                "machine's clock"
            )


def act(database: Database, finding: str, deed: Deed, sign: Sign | None = None) -> dict[str, Any]:
    """Append one action to the finding named SESSION/NUMBER (or one lamp of it); returns it.

    Raises VoicecheckError for what is missing or does not fit, and DatabaseAway.
    """
    deed.check()
    with database.writing() as connection:
        lock(connection)
        row = find_finding(connection, finding)
        lamp = _lamp(row, finding, deed.kind)
        if deed.at < parse(row.utc):
            raise VoicecheckError(
                f"{format_utc(deed.at)} is before the finding, {row.utc}; mend the time given "
                "with --at"
            )
        values: dict[str, Any] = {
            "kind": deed.kind.value,
            "at": format_utc(deed.at),
            "who": deed.who.strip(),
            "reference": deed.reference.strip(),
            "note": deed.note.strip(),
            "category": None,
            "due": None,
            "zone": None,
            "salt": secrets.token_hex(16),
        }
        if deed.kind is Act.DEFERRED:
            first = _recorded(connection, row, lamp)
            values |= _deferral(row, first, deed.category, deed.days)
        if lamp is not None:  # entries from before there were lamps have none
            values["lamp"] = lamp
        own = {**values, "finding_id": row.id, "filed": coming(connection)}
        number = connection.execute(
            insert(t.actions).values(**own).returning(t.actions.c.id)
        ).scalar_one()
        content = {**values, "item": row.item}
        now = format_utc(datetime.now(UTC))
        append(connection, Filed.ACTION, f"{row.session}#{number}", content, now, sign)
    part = finding.rpartition("/")[2].partition(".")[2]
    name = f"{row.session}/{row.ordinal}" + (f".{part}" if part else "")
    return {"finding": name, **values}


def _lamp(row: Row[Any], finding: str, kind: Act) -> str | None:
    """The lamp that SESSION/NUMBER.LAMP names; None: the finding as a whole.

    Raises VoicecheckError where there are several and a deferral or sign-off names none: each is
    a discrepancy with an entry of its own.
    """
    lamps = lamps_from(row.lamps)
    _, dot, number = finding.rpartition("/")[2].partition(".")
    if dot:
        if len(lamps) < 2 or int(number) > len(lamps):
            raise VoicecheckError(
                f"{finding[:60]}: the finding has no such lamp; see `voicecheck log open`"
            )
        return lamps[int(number) - 1] or ""
    if len(lamps) > 1 and kind in (Act.DEFERRED, Act.CLEARED):
        told = ", ".join(f"{finding}.{n} {lamp or '?'}" for n, lamp in enumerate(lamps, 1))
        raise VoicecheckError(
            f"{finding[:60]} is of {len(lamps)} lamps, each a discrepancy of its own; name one of "
            f"{told}"
        )
    return None


def _recorded(connection: Connection, row: Row[Any], lamp: str | None) -> str:
    """When the discrepancy began: a repeated finding does not start the days anew."""
    registration = connection.execute(
        select(t.airframes.c.registration).where(t.airframes.c.id == row.airframe_id)
    ).scalar_one()
    for entry in of_airframe(connection, registration, row.item):
        ours = any(found.id == row.id for found in entry.findings)
        if ours and (lamp is None or (entry.lamp or "") == lamp):
            return entry.first.utc
    raise VoicecheckError(
        "this finding was tested again in its session and does not stand; there is nothing to defer"
    )


def _deferral(
    row: Row[Any], recorded: str, category: str | None, days: int | None
) -> dict[str, Any]:
    """Category and last day of a deferral, counted from the day of the first finding."""
    chosen = (category or row.mel_category or "").upper()
    if not chosen:
        raise VoicecheckError(
            "the airframe's data have no MEL item for this finding; if the operator's MEL has "
            "one, give its category with --category"
        )
    if row.mel_category and chosen != row.mel_category:
        raise VoicecheckError(
            f"category {chosen} differs from {row.mel_category}, that of {row.mel_item} in the "
            "airframe's data; correct the data, or leave --category out"
        )
    found = due(parse(recorded), chosen, row.zone, days if days is not None else row.mel_days)
    return {"category": chosen, "due": found.day.isoformat(), "zone": row.zone}


def find_finding(connection: Connection, wanted: str) -> Row[Any]:
    """The finding SESSION/NUMBER, or that of its lamp SESSION/NUMBER.LAMP.

    The session may be given by its beginning, if only one fits. Raises VoicecheckError.
    """
    match = re.fullmatch(r"([0-9A-Za-z-]+)/([1-9][0-9]{0,4})(\.[1-9][0-9]?)?", wanted)
    if match is None:
        raise VoicecheckError(
            f"{wanted[:60]!r} does not name a finding; write it as `log open` shows it, "
            "SESSION/NUMBER"
        )
    found = connection.execute(
        select(t.findings, t.sessions.c.session, t.sessions.c.zone)
        .join(t.sessions, t.sessions.c.id == t.findings.c.session_id)
        .where(
            t.sessions.c.session.startswith(match[1], autoescape=True),
            t.findings.c.ordinal == int(match[2]),
        )
        .limit(2)
    ).all()
    exact = [row for row in found if row.session == match[1]]
    found = exact or found
    if not found:
        raise VoicecheckError(f"no finding {wanted[:60]} is filed; see `voicecheck log open`")
    if len(found) > 1:
        raise VoicecheckError(f"{wanted[:60]} fits several sessions; give more of the session id")
    return found[0]
