"""Is the logbook still what was filed: its chain, each session, each action, each signature.

The chain holds a digest of every session and action. From there: the filed journal must have
the filed hash and a whole chain of its own, and every row must follow from it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Row, select

from voicecheck.errors import VoicecheckError
from voicecheck.journal.chain import canonical, digest
from voicecheck.journal.format import JOURNAL, MAX_FILE
from voicecheck.journal.reader import Verification, open_plain, read, verify
from voicecheck.logbook.crew import Named, Names, crew_of
from voicecheck.logbook.sessions import from_journal
from voicecheck.logbook.signing import check_entry, check_head
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.derive import derive
from voicecheck.logbook.store.ledger import Filed, follow, purge_of
from voicecheck.logbook.store.posting import stored_journal


@dataclass(frozen=True, slots=True)
class Audit:
    """entries: links of the chain that hold. head: hash of the last. problems: one line each."""

    entries: int
    head: str
    problems: tuple[str, ...]


def audit(connection: Connection, keys: frozenset[str] = frozenset()) -> Audit:
    """Follow everything in the logbook. keys: if any, every entry must be signed by one."""
    count, head, problem = follow(connection)
    problems = [problem] if problem is not None else []
    problems += _signatures(connection, keys)
    problems += _sessions(connection)
    problems += _actions(connection)
    return Audit(count, head, tuple(problems))


def against_anchor(connection: Connection, session: str, path: Path) -> str:
    """Hold the journal at `path` against what was filed under its id; says what was found.

    Raises VoicecheckError when the two differ.
    """
    row = connection.execute(
        select(t.sessions).where(t.sessions.c.session == session)
    ).one_or_none()
    if row is None:
        return "not filed in the logbook"
    entry = connection.execute(
        select(t.entries.c.n, t.entries.c.digest)
        .where(t.entries.c.kind == Filed.SESSION.value, t.entries.c.subject == session)
        .order_by(t.entries.c.n.desc())
    ).first()
    if entry is None or entry.digest != digest(canonical(_anchor(row))):
        raise VoicecheckError(f"{session}: its anchor in the logbook was changed")
    with open_plain(path) as file:
        data = file.read(MAX_FILE + 1)
    if digest(data) == row.sha256:
        return f"as filed in entry {entry.n} of the logbook"
    if len(data) > row.size and digest(data[: row.size]) == row.sha256:
        return f"longer than filed in entry {entry.n}: {len(data) - row.size} bytes not filed yet"
    raise VoicecheckError(
        f"{session}: not the journal that entry {entry.n} of the logbook anchors "
        f"({row.lines} lines, head {row.head})"
    )


def _anchor(row: Row[Any]) -> dict[str, Any]:
    return {
        "session": row.session,
        "lines": row.lines,
        "head": row.head,
        "sha256": row.sha256,
        "size": row.size,
    }


def _signatures(connection: Connection, keys: frozenset[str]) -> Iterator[str]:
    columns = (t.entries.c.n, t.entries.c.hash, t.entries.c.signature)
    for row in connection.execute(select(*columns).order_by(t.entries.c.n)):
        if row.signature is None:
            if keys:
                yield f"entry {row.n} is not signed"
            continue
        try:
            key = check_entry(row.signature, row.hash)
        except VoicecheckError as error:
            yield f"entry {row.n}: {error}"
            continue
        if keys and key not in keys:
            yield f"entry {row.n} is signed by another key, {key}"


def _latest(connection: Connection, kind: Filed) -> dict[str, str]:
    """Subject to digest, the newest for each."""
    rows = connection.execute(
        select(t.entries.c.subject, t.entries.c.digest)
        .where(t.entries.c.kind == kind.value)
        .order_by(t.entries.c.n)
    )
    return {row.subject: row.digest for row in rows}


def _purged_whole(connection: Connection) -> set[str]:
    """Sessions of which an entry says that all of them went, not only the names."""
    return {
        session
        for session, filed in _latest(connection, Filed.PURGE).items()
        if filed == digest(canonical(purge_of("session", session)))
    }


def _sessions(connection: Connection) -> Iterator[str]:
    anchors = _latest(connection, Filed.SESSION)
    purged = _purged_whole(connection)
    ids = list(connection.execute(select(t.sessions.c.id).order_by(t.sessions.c.id)).scalars())
    for number in ids:
        row = connection.execute(select(t.sessions).where(t.sessions.c.id == number)).one()
        anchor = anchors.pop(row.session, None)
        if anchor is None:
            yield f"{row.session}: was added past the chain"
        elif anchor != digest(canonical(_anchor(row))):
            yield f"{row.session}: its anchor was changed"
        elif row.purged is None:
            try:
                _follow_session(connection, row)
            except VoicecheckError as error:
                yield f"{row.session}: {error}"
        elif row.session not in purged:
            yield f"{row.session}: is marked purged, but no entry says so"
    for session in anchors:
        yield f"{session}: was dropped; its entry in the chain is still there"


def _follow_session(connection: Connection, row: Row[Any]) -> None:
    """Journal, rows and names of one session. Raises VoicecheckError."""
    data = stored_journal(connection, row.id)
    if digest(data) != row.sha256:
        raise VoicecheckError("the journal in the database was changed")
    path = Path(row.session) / JOURNAL
    journal = read(path, data)
    found: Verification = verify(path, data)
    if not found.intact:
        raise VoicecheckError(f"its journal is broken at line {found.line}: {found.problem}")
    if row.signature is not None:
        check_head(row.signature, row.session, found)
    rows = derive(from_journal(path.parent, journal, {}))
    for name, value in rows.session.items():
        if getattr(row, name) != value:
            raise VoicecheckError(f"`{name}` of the session was changed")
    _same_airframe(connection, row, journal.header.airframe)
    checks = select(t.checks.c.item, t.checks.c.position_name, t.checks.c.expected)
    joined = checks.join(t.items, t.items.c.check_id == t.checks.c.id)
    there = joined.where(t.items.c.session_id == row.id).order_by(t.items.c.ordinal)
    if [tuple(check) for check in connection.execute(there)] != rows.checks:
        raise VoicecheckError("the items of the session were changed")
    for table, wanted in ((t.items, rows.items), (t.timings, rows.timings)):
        _same_rows(connection, table.name, row.id, wanted)
    # A finding that was acted on before its session went on may stand in another order.
    _same_findings(connection, row.id, rows.findings)
    if problem := crew_of(journal.header, _names(connection, row.id)).problem:
        raise VoicecheckError(problem)


def _same_airframe(connection: Connection, row: Row[Any], registration: str) -> None:
    """A row that was moved to another airframe would hide a finding where it belongs."""
    owner = t.airframes.c.registration == registration
    known = connection.execute(select(t.airframes.c.id).where(owner)).scalar_one_or_none()
    if row.airframe_id != known:
        raise VoicecheckError("the airframe of the session was changed")
    for table in (t.findings, t.timings):
        ours = select(table.c.airframe_id).where(table.c.session_id == row.id)
        if any(found != known for found in connection.execute(ours).scalars()):
            raise VoicecheckError(f"the airframe of the {table.name} was changed")


def _same_rows(
    connection: Connection, name: str, session_id: int, wanted: list[dict[str, Any]]
) -> None:
    table = t.METADATA.tables[name]
    query = select(table).where(table.c.session_id == session_id).order_by(table.c.ordinal)
    there = connection.execute(query).mappings().all()
    keys = list(wanted[0]) if wanted else []
    if [{key: row[key] for key in keys} for row in there] != wanted:
        raise VoicecheckError(f"the {name} of the session were changed")


def _same_findings(connection: Connection, session_id: int, wanted: list[dict[str, Any]]) -> None:
    query = select(t.findings).where(t.findings.c.session_id == session_id)
    rows = connection.execute(query.order_by(t.findings.c.ordinal)).mappings().all()
    there = {row["ordinal"]: row for row in rows if row["ordinal"] > 0}
    for finding in wanted:
        row = there.pop(finding["ordinal"], None)
        if row is None or any(row[key] != value for key, value in finding.items()):
            raise VoicecheckError(f"finding {finding['ordinal']} of the session was changed")
    if there:
        raise VoicecheckError("findings were added to the session")


def _names(connection: Connection, session_id: int) -> Names:
    query = select(t.crews).where(t.crews.c.session_id == session_id)
    return {
        row.role: Named(row.name, row.salt)
        for row in connection.execute(query)
        if row.salt is not None
    }


def _numbers(connection: Connection) -> set[tuple[str, str, int]]:
    """Kind, subject and number of every entry."""
    columns = (t.entries.c.kind, t.entries.c.subject, t.entries.c.n)
    return {(row.kind, row.subject, row.n) for row in connection.execute(select(*columns))}


def _places(connection: Connection, numbers: set[tuple[str, str, int]]) -> Iterator[str]:
    """A finding said to have been filed earlier could hide behind a sign-off."""
    for session, filed in connection.execute(select(t.sessions.c.session, t.sessions.c.filed)):
        if (Filed.SESSION.value, session, filed) not in numbers:
            yield f"{session}: its place in the chain was changed"
    query = select(t.findings.c.filed, t.findings.c.ordinal, t.sessions.c.session).join(
        t.sessions, t.sessions.c.id == t.findings.c.session_id
    )
    for row in connection.execute(query.order_by(t.findings.c.id)):
        if (Filed.SESSION.value, row.session, row.filed) not in numbers:
            yield f"{row.session}/{row.ordinal}: the finding's place in the chain was changed"


_NOT_ANCHORED: Final = ("id", "finding_id", "session", "filed")
"""Columns of an action that its digest does not hold."""


def _actions(connection: Connection) -> Iterator[str]:
    anchors = _latest(connection, Filed.ACTION)
    numbers = _numbers(connection)
    purged = _purged_whole(connection)
    yield from _places(connection, numbers)
    query = (
        select(t.actions, t.findings.c.item, t.sessions.c.session)
        .join(t.findings, t.findings.c.id == t.actions.c.finding_id)
        .join(t.sessions, t.sessions.c.id == t.findings.c.session_id)
        .order_by(t.actions.c.id)
    )
    for row in connection.execute(query).mappings():
        subject = f"{row['session']}#{row['id']}"
        content = {key: row[key] for key in row if key not in _NOT_ANCHORED}
        if content["lamp"] is None:  # entries from before there were lamps have none
            del content["lamp"]
        anchor = anchors.pop(subject, None)
        if (Filed.ACTION.value, subject, row["filed"]) not in numbers:
            yield f"{subject}: the action's place in the chain was changed"
        if anchor is None:
            yield f"{subject}: an action was added past the chain"
        elif anchor != digest(canonical(content)):
            yield f"{subject}: the action was changed"
    for subject in anchors:
        if subject.partition("#")[0] not in purged:
            yield f"{subject}: an action was dropped"
