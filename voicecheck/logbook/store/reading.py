"""Looking things up: sessions, discrepancies, timings and results of one airframe or of all."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Row, Select, func, select

from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.reader import read
from voicecheck.logbook.crew import Named
from voicecheck.logbook.discrepancies import Discrepancy, Done, Found, discrepancies
from voicecheck.logbook.filed import Listed, Tally, Timed
from voicecheck.logbook.lamps import lamps_from
from voicecheck.logbook.sessions import Session, from_journal
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.order import behind
from voicecheck.logbook.store.posting import stored_journal
from voicecheck.words import say

LIMIT: Final = 50
"""Sessions that a list shows unless told otherwise."""


def listed(
    connection: Connection, airframe: str | None = None, limit: int | None = LIMIT
) -> list[Listed]:
    """Sessions, newest first; of one airframe, or of all. A purged one is told as such."""
    query = (
        select(t.sessions, t.airframes.c.registration)
        .join(t.airframes, t.airframes.c.id == t.sessions.c.airframe_id)
        .order_by(t.sessions.c.started.desc(), t.sessions.c.id.desc())
        .limit(limit)
    )
    if airframe is not None:
        query = query.where(t.sessions.c.airframe_id == airframe_id(connection, airframe))
    rows = connection.execute(query).all()
    late = behind(connection, sorted({row.airframe_id for row in rows}))
    return [
        Listed(
            row.session,
            row.started,
            row.registration,
            row.result if row.purged is None else say("result-purged", when=row.purged),
            row.state,
            row.zone,
            late.get(row.session),
        )
        for row in rows
    ]


def known(connection: Connection, registration: str) -> bool:
    """Whether any session of this airframe is filed."""
    query = select(t.airframes.c.id).where(t.airframes.c.registration == registration)
    return connection.execute(query).first() is not None


def airframe_id(connection: Connection, registration: str) -> int:
    """Raises VoicecheckError for a registration without sessions."""
    found = connection.execute(
        select(t.airframes.c.id).where(t.airframes.c.registration == registration)
    ).scalar_one_or_none()
    if found is None:
        raise VoicecheckError(
            f"no session of {registration} is filed; `voicecheck log list` shows which are"
        )
    return int(found)


def find_session(connection: Connection, wanted: str) -> Row[Any]:
    """The session whose id is `wanted` or begins so, or the latest. Raises VoicecheckError."""
    query: Select[Any] = select(t.sessions)
    if wanted == "latest":
        query = query.order_by(t.sessions.c.started.desc(), t.sessions.c.id.desc()).limit(1)
    else:
        begins = t.sessions.c.session.startswith(wanted, autoescape=True)
        query = query.where(begins).order_by(t.sessions.c.session).limit(4)
    found = connection.execute(query).all()
    exact = [row for row in found if row.session == wanted]
    found = exact or found
    if not found:
        raise VoicecheckError(f"no session begins with {wanted[:60]}; see `voicecheck log list`")
    if len(found) > 1:
        several = ", ".join(row.session for row in found[:3])
        raise VoicecheckError(f"{wanted[:60]} fits several sessions ({several}); give more of it")
    return found[0]


def session_from(connection: Connection, row: Row[Any]) -> Session:
    """The whole session from the journal in the database. Raises VoicecheckError."""
    path = Path(row.session) / JOURNAL
    names = {
        name.role: Named(name.name, name.salt)
        for name in connection.execute(select(t.crews).where(t.crews.c.session_id == row.id))
        if name.salt is not None
    }
    return from_journal(path.parent, read(path, stored_journal(connection, row.id)), names)


def of_airframe(
    connection: Connection, registration: str | None, item: str | None = None
) -> list[Discrepancy]:
    """Every discrepancy of one airframe (of one item), or of the fleet, whatever its status."""
    findings = (
        select(t.findings, t.sessions.c.session, t.sessions.c.zone, t.airframes.c.registration)
        .join(t.sessions, t.sessions.c.id == t.findings.c.session_id)
        .join(t.airframes, t.airframes.c.id == t.findings.c.airframe_id)
        .where(t.findings.c.superseded.is_(False))
    )
    actions = select(t.actions).join(t.findings, t.findings.c.id == t.actions.c.finding_id)
    if registration is not None:
        number = airframe_id(connection, registration)
        findings = findings.where(t.findings.c.airframe_id == number)
        actions = actions.where(t.findings.c.airframe_id == number)
    if item is not None:
        findings = findings.where(t.findings.c.item == item)
        actions = actions.where(t.findings.c.item == item)
    return discrepancies(
        (_found(row) for row in connection.execute(findings)),
        (_done(row) for row in connection.execute(actions)),
    )


def _found(row: Row[Any]) -> Found:
    return Found(
        row.id,
        f"{row.session}/{row.ordinal}",
        row.registration,
        row.item,
        row.position_name,
        row.what,
        row.utc,
        row.chapter,
        row.mel_category,
        row.mel_item,
        row.text,
        row.zone,
        lamps_from(row.lamps),
        row.filed,
    )


def _done(row: Row[Any]) -> Done:
    return Done(
        row.id,
        row.finding_id,
        row.kind,
        row.at,
        row.who,
        row.reference,
        row.note,
        row.category,
        row.due,
        row.zone,
        row.lamp,
        row.filed,
    )


def crew_names(connection: Connection, session: str) -> dict[str, str | None]:
    """Role to name, for the sentence that ends a ready text; empty once purged."""
    query = (
        select(t.crews.c.role, t.crews.c.name)
        .join(t.sessions, t.sessions.c.id == t.crews.c.session_id)
        .where(t.sessions.c.session == session)
        .order_by(t.crews.c.role)
    )
    return {row.role: row.name for row in connection.execute(query)}


def timings(connection: Connection, registration: str, item: str | None = None) -> list[Timed]:
    """Every timed window of one airframe across its sessions, oldest first."""
    columns = [getattr(t.timings.c, name) for name in Timed.__slots__ if name != "zone"]
    query = (
        select(*columns, t.sessions.c.zone)
        .join(t.sessions, t.sessions.c.id == t.timings.c.session_id)
        .where(t.timings.c.airframe_id == airframe_id(connection, registration))
        .order_by(t.timings.c.item, t.timings.c.utc, t.timings.c.session_id, t.timings.c.ordinal)
    )
    if item is not None:
        query = query.where(t.timings.c.item == item)
    return [Timed(**row) for row in connection.execute(query).mappings()]


def tallies(connection: Connection, registration: str) -> list[Tally]:
    """The results of every item of one airframe, across its sessions."""
    own = t.sessions.c.airframe_id == airframe_id(connection, registration)
    joined = t.items.join(t.sessions, t.sessions.c.id == t.items.c.session_id).join(
        t.checks, t.checks.c.id == t.items.c.check_id
    )
    counted = connection.execute(
        select(t.checks.c.item, t.items.c.outcome, func.count().label("n"))
        .select_from(joined)
        .where(own)
        .group_by(t.checks.c.item, t.items.c.outcome)
        .order_by(t.checks.c.item)
    )
    outcomes: dict[str, dict[str, int]] = {}
    for row in counted:
        outcomes.setdefault(row.item, {})[row.outcome] = row.n
    newest = (
        select(t.sessions.c.id)
        .where(own, t.sessions.c.complete.is_not(None), t.sessions.c.purged.is_(None))
        .order_by(t.sessions.c.started.desc())
        .limit(1)
    )
    latest = connection.execute(
        select(t.checks.c.item, t.items.c.outcome)
        .select_from(joined)
        .where(t.items.c.session_id.in_(newest))
    )
    last = {row.item: row.outcome for row in latest}
    return [Tally(item, found, last.get(item, "not in it")) for item, found in outcomes.items()]
