"""From findings and actions to discrepancies: what is open, deferred or cleared, and since when.

Findings of one item on one airframe belong to one discrepancy until it is cleared; a finding
after that begins a new one, which then repeats a defect that was signed off. The order in which
machines delivered their sessions does not matter: only the times do.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import groupby

from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.deferral import end_of


class Status(enum.StrEnum):
    """Where a discrepancy stands."""

    OPEN = "open"
    DEFERRED = "deferred"
    CLEARED = "cleared"


@dataclass(frozen=True, slots=True)
class Found:
    """One standing finding. name: SESSION/NUMBER. text: ready for the technical log."""

    id: int
    name: str
    airframe: str
    item: str
    position_name: str
    what: str
    utc: str
    chapter: str | None
    category: str | None
    mel_item: str | None
    text: str


@dataclass(frozen=True, slots=True)
class Done:
    """One action on a finding, as filed. due: the last calendar day, in `zone`."""

    id: int
    finding_id: int
    kind: str
    at: str
    who: str
    reference: str
    note: str
    category: str | None
    due: str | None
    zone: str | None


@dataclass(slots=True)
class Discrepancy:
    """Findings of one item that belong together, oldest first, and what was done about them.

    repeats: the clearing action after which this one came up again, if there was one.
    """

    findings: list[Found]
    actions: list[Done] = field(default_factory=list)
    repeats: Done | None = None

    @property
    def first(self) -> Found:
        """The finding that began it, by which it is named."""
        return self.findings[0]

    @property
    def last(self) -> Found:
        """The newest finding, whose text tells how it shows now."""
        return self.findings[-1]

    @property
    def _standing(self) -> Done | None:
        """The last action that settles the status."""
        settled = [done for done in self.actions if done.kind != "corrected"]
        return max(settled, key=lambda done: done.id, default=None)

    @property
    def status(self) -> Status:
        """Open until something else was filed."""
        last = self._standing
        if last is None or last.kind == "reopened":
            return Status.OPEN
        return Status(last.kind)

    @property
    def deferral(self) -> Done | None:
        """The deferral that stands, while it is deferred."""
        return self._standing if self.status is Status.DEFERRED else None

    @property
    def due(self) -> date | None:
        """Last calendar day of the deferral that stands."""
        done = self.deferral
        return date.fromisoformat(done.due) if done is not None and done.due else None

    def overdue(self, now: datetime) -> bool:
        """Whether the deferral has run out at `now`."""
        done = self.deferral
        if done is None or done.due is None:
            return False
        return now >= end_of(date.fromisoformat(done.due), done.zone or "UTC")

    def _cleared_at(self) -> datetime | None:
        done = self._standing
        return parse(done.at) if done is not None and done.kind == "cleared" else None


def discrepancies(findings: Iterable[Found], actions: Iterable[Done]) -> list[Discrepancy]:
    """All discrepancies of these findings, the oldest first."""
    acted: dict[int, list[Done]] = {}
    for done in actions:
        acted.setdefault(done.finding_id, []).append(done)
    ordered = sorted(findings, key=lambda f: (f.airframe, f.item, f.utc, f.id))
    made: list[Discrepancy] = []
    for _, group in groupby(ordered, key=lambda f: (f.airframe, f.item)):
        current: Discrepancy | None = None
        for found in group:
            cleared = current._cleared_at() if current is not None else None
            if current is None or (cleared is not None and parse(found.utc) >= cleared):
                before = current._standing if current is not None else None
                current = Discrepancy([], [], before)
                made.append(current)
            current.findings.append(found)
            current.actions += acted.get(found.id, [])
    for discrepancy in made:
        discrepancy.actions.sort(key=lambda done: done.id)
    return sorted(made, key=lambda d: (d.first.utc, d.first.id))


def standing(found: Iterable[Discrepancy]) -> list[Discrepancy]:
    """Those that are open or deferred."""
    return [entry for entry in found if entry.status is not Status.CLEARED]
