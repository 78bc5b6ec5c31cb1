"""Gathering what the pages show: one airframe's state and history, and the fleet."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import Connection, select

from voicecheck.logbook.context import Airframe, Context, History
from voicecheck.logbook.discrepancies import Discrepancy, Done, standing
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.order import behind, newest
from voicecheck.logbook.store.reading import airframe_id, listed, of_airframe, tallies, timings
from voicecheck.logbook.trend.series import trends
from voicecheck.words import say


def context_of(
    connection: Connection, airframe: str, now: datetime, session: str | None = None
) -> Context:
    """Everything filed about one airframe. Raises VoicecheckError for one without sessions."""
    known = of_airframe(connection, airframe)
    actions: dict[int, list[Done]] = {}
    if session is not None:
        for entry in known:
            numbers = {
                found.id: int(found.name.rpartition("/")[2])
                for found in entry.findings
                if found.name.partition("/")[0] == session
            }
            for done in entry.actions:
                if done.finding_id in numbers:
                    told = actions.setdefault(numbers[done.finding_id], [])
                    if done not in told:  # it is there where it is about several lamps
                        told.append(done)
    number = airframe_id(connection, airframe)
    return Context(
        now,
        airframe,
        standing(known),
        [entry for entry in known if entry.repeats is not None],
        trends(timings(connection, airframe), known),
        actions,
        newest(connection, number),
        behind(connection, [number]).get(session) if session is not None else None,
    )


def fleet(connection: Connection, now: datetime) -> list[Airframe]:
    """Every airframe that has a session: the overdue first, then by due day, then by name."""
    by_airframe: dict[str, list[Discrepancy]] = {}
    for entry in of_airframe(connection, None):
        by_airframe.setdefault(entry.first.airframe, []).append(entry)
    found = []
    for row in connection.execute(select(t.airframes).order_by(t.airframes.c.registration)).all():
        known = by_airframe.get(row.registration, [])
        left = standing(known)
        days = [entry.due for entry in left if entry.due is not None]
        found.append(
            Airframe(
                row.registration,
                row.type or say("type-unknown"),
                row.operator,
                next(iter(listed(connection, row.registration, 1)), None),
                sum(entry.status == "open" for entry in left),
                sum(entry.status == "deferred" for entry in left),
                sum(entry.overdue(now) for entry in left),
                min(days, default=None),
                trends(timings(connection, row.registration), known),
            )
        )
    return sorted(found, key=lambda a: (-a.overdue, a.due or date.max, -a.open, a.registration))


def history(connection: Connection, airframe: str, now: datetime) -> History:
    """What the trend page shows. Raises VoicecheckError for an airframe without sessions."""
    return History(
        context_of(connection, airframe, now),
        tallies(connection, airframe),
        listed(connection, airframe, 20),
    )
