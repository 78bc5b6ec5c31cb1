"""Whether a session is dated before what the logbook already had when it was filed.

Then the clock that dated it is behind, or it was filed late. Which of the two cannot be told from
here, so both are said. Only stamps of one airframe are compared, in the order of the chain.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, select

from voicecheck.logbook.filed import Earlier
from voicecheck.logbook.store import tables as t


def newest(connection: Connection, airframe: int) -> Earlier | None:
    """The latest stamp that is filed of an airframe (its number); None where nothing is."""
    return max(
        (earlier for _, _, earlier in _stamps(connection, [airframe])),
        key=lambda earlier: earlier.utc,
        default=None,
    )


def behind(connection: Connection, airframes: Sequence[int] | None = None) -> dict[str, Earlier]:
    """Session id to the latest stamp before whose time it is dated, though it was filed after.

    airframes: numbers; None: all.
    """
    latest: dict[int, Earlier] = {}
    found: dict[str, Earlier] = {}
    for airframe, session, stamp in _stamps(connection, airframes):
        before = latest.get(airframe)
        if before is not None and stamp.utc < before.utc:
            if session is not None:
                found[session] = before
        else:
            latest[airframe] = stamp
    return found


def _stamps(
    connection: Connection, airframes: Sequence[int] | None
) -> list[tuple[int, str | None, Earlier]]:
    """Airframe, session id (None: an action) and stamp, in the order in which they were filed."""
    sessions = select(
        t.sessions.c.filed, t.sessions.c.airframe_id, t.sessions.c.session, t.sessions.c.started
    )
    actions = (
        select(t.actions.c.filed, t.findings.c.airframe_id, t.sessions.c.session, t.actions.c.at)
        .join(t.findings, t.findings.c.id == t.actions.c.finding_id)
        .join(t.sessions, t.sessions.c.id == t.findings.c.session_id)
    )
    if airframes is not None:
        sessions = sessions.where(t.sessions.c.airframe_id.in_(airframes))
        actions = actions.where(t.findings.c.airframe_id.in_(airframes))
    made: list[tuple[int, int, str | None, Earlier]] = [
        (n, airframe, session, Earlier(utc, session))
        for n, airframe, session, utc in connection.execute(sessions)
    ]
    made += [
        (n, airframe, None, Earlier(utc, session))
        for n, airframe, session, utc in connection.execute(actions)
    ]
    in_order = sorted(made, key=lambda one: one[0])
    return [(airframe, session, stamp) for _, airframe, session, stamp in in_order]
