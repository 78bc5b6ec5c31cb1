"""What the logbook knows beyond one session: its airframe's open items, actions and trends."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from voicecheck.logbook.discrepancies import Discrepancy, Done
from voicecheck.logbook.filed import Earlier, Listed, Tally
from voicecheck.logbook.trend.series import Trend


@dataclass(frozen=True, slots=True)
class Context:
    """As of `now`. actions: those on findings of the session in question, by their number.

    newest: the latest stamp filed of the airframe. behind: what was filed before the session in
    question and is dated after it.
    """

    now: datetime
    airframe: str
    standing: Sequence[Discrepancy]
    repeats: Sequence[Discrepancy]
    trends: Sequence[Trend]
    actions: Mapping[int, Sequence[Done]]
    newest: Earlier | None = None
    behind: Earlier | None = None


@dataclass(frozen=True, slots=True)
class Airframe:
    """One line of the fleet page. due: the earliest day on which a deferral ends."""

    registration: str
    type: str
    operator: str
    last: Listed | None
    open: int
    deferred: int
    overdue: int
    due: date | None
    trends: Sequence[Trend]


@dataclass(frozen=True, slots=True)
class History:
    """One airframe across its sessions."""

    context: Context
    tallies: Sequence[Tally]
    sessions: Sequence[Listed]
