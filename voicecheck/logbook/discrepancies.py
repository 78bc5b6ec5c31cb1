"""From findings and actions to discrepancies: what is open, deferred or cleared, and since when.

A discrepancy is one defect of one item on one airframe: one dark lamp, or what a finding says
where it is about no lamp. Its findings belong together until it is cleared; a finding after that
begins a new one, which then repeats a defect that was signed off. A finding that names two lamps
is in two discrepancies. What is dark and was not named is a discrepancy of its own each time:
nobody can tell whether it is the lamp that was deferred.

A sign-off holds for what was found before it and filed before it. The time of a finding is that
of a clock, which may be behind; what the logbook did not have yet, nobody signed off.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.deferral import day_in, end_of
from voicecheck.logbook.lamps import Lamps


class Status(enum.StrEnum):
    """Where a discrepancy stands."""

    OPEN = "open"
    DEFERRED = "deferred"
    CLEARED = "cleared"


@dataclass(frozen=True, slots=True)
class Found:
    """One standing finding. name: SESSION/NUMBER. text: ready for the technical log.

    zone: of the operator's calendar. lamps: what is dark, empty where it is about no lamp.
    filed: number of the entry of the logbook's chain with which it came.
    """

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
    zone: str
    lamps: Lamps
    filed: int

    @property
    def day(self) -> date:
        """The operator's calendar day on which it was found."""
        return day_in(parse(self.utc), self.zone)


@dataclass(frozen=True, slots=True)
class Done:
    """One action on a finding, as filed. due: the last calendar day, in `zone`.

    lamp: which of the finding's lamps, where there are several (empty: what was not named); None:
    all of them. filed: number of its entry in the logbook's chain.
    """

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
    lamp: str | None
    filed: int

    def covers(self, found: Found) -> bool:
        """Whether a sign-off can be about this finding: found and filed before it, or named."""
        before = found.filed < self.filed and parse(found.utc) < parse(self.at)
        return before or found.id == self.finding_id


@dataclass(slots=True)
class Discrepancy:
    """Findings of one defect that belong together, oldest first, and what was done about them.

    lamp: the one that is dark, where a lamp was named. repeats: the clearing action after which
    this one came up again, if there was one.
    """

    findings: list[Found]
    lamp: str | None = None
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
    def name(self) -> str:
        """SESSION/NUMBER of its first finding; /NUMBER.LAMP where that names several lamps."""
        lamps = self.first.lamps
        if len(lamps) < 2:
            return self.first.name
        return f"{self.first.name}.{lamps.index(self.lamp) + 1}"

    @property
    def _standing(self) -> Done | None:
        """The last action that settles the status."""
        settled = [done for done in self.actions if done.kind != "corrected"]
        return max(settled, key=lambda done: done.id, default=None)

    @property
    def status(self) -> Status:
        """Open until something else was filed, and again where a sign-off cannot hold for all."""
        last = self._standing
        if last is None or last.kind == "reopened":
            return Status.OPEN
        if last.kind == "cleared" and not all(last.covers(found) for found in self.findings):
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

    def days_open(self, now: datetime) -> int:
        """The operator's calendar days from the day on which it was first found to `now`."""
        return (day_in(now, self.first.zone) - self.first.day).days


def discrepancies(findings: Iterable[Found], actions: Iterable[Done]) -> list[Discrepancy]:
    """All discrepancies of these findings, the oldest first."""
    acted: dict[int, list[Done]] = {}
    for done in actions:
        acted.setdefault(done.finding_id, []).append(done)
    defects: dict[_Defect, list[Found]] = {}
    for found in sorted(findings, key=lambda f: (f.utc, f.id)):
        for defect in _defects_of(found):
            defects.setdefault(defect, []).append(found)
    made = [
        entry for defect, group in defects.items() for entry in _of_defect(defect, group, acted)
    ]
    return sorted(made, key=lambda d: (d.first.utc, d.first.id, d.name))


def standing(found: Iterable[Discrepancy]) -> list[Discrepancy]:
    """Those that are open or deferred."""
    return [entry for entry in found if entry.status is not Status.CLEARED]


@dataclass(frozen=True, slots=True)
class _Defect:
    """What makes two findings be about the same thing. named False: it may be another each time."""

    airframe: str
    item: str
    lamp: str | None
    says: str
    named: bool = True


def _defects_of(found: Found) -> Iterator[_Defect]:
    for lamp in found.lamps:
        named = lamp is not None
        says = "" if named else brief(found.what)
        yield _Defect(found.airframe, found.item, lamp, says, named)
    if not found.lamps:
        yield _Defect(found.airframe, found.item, None, brief(found.what))


def brief(what: str) -> str:
    """What a finding says, without the figures behind a colon."""
    return what.partition(":")[0]


def _of_defect(
    defect: _Defect, findings: Sequence[Found], acted: dict[int, list[Done]]
) -> Iterator[Discrepancy]:
    """Findings of one defect, parted by the sign-offs after which each was found."""
    about = sorted(_about(defect, findings, acted), key=lambda done: done.id)
    made: dict[object, Discrepancy] = {}
    for found in findings:
        after = _sign_offs_before(found, about, findings)
        key = (tuple(done.id for done in after), None if defect.named else found.id)
        entry = made.setdefault(key, Discrepancy([], defect.lamp, [], after[-1] if after else None))
        entry.findings.append(found)
    for entry in made.values():
        ours = {found.id for found in entry.findings}
        entry.actions += (done for done in about if done.finding_id in ours)
    yield from made.values()


def _about(
    defect: _Defect, findings: Sequence[Found], acted: dict[int, list[Done]]
) -> Iterator[Done]:
    """Actions on these findings that are about this defect of them."""
    for found in findings:
        for done in acted.get(found.id, ()):
            if done.lamp is None or done.lamp == (defect.lamp or ""):
                yield done


def _sign_offs_before(found: Found, about: Sequence[Done], findings: Sequence[Found]) -> list[Done]:
    """The sign-offs after which this was found, in the order of their filing."""
    by_id = {one.id: one for one in findings}
    reopened = [(done, by_id[done.finding_id]) for done in about if done.kind == "reopened"]
    cleared = (done for done in about if done.kind == "cleared")
    return [done for done in cleared if _is_after(found, done, reopened)]


def _is_after(found: Found, cleared: Done, reopened: Sequence[tuple[Done, Found]]) -> bool:
    """Whether the defect was seen again after a sign-off that was not taken back before."""
    if cleared.covers(found):
        return False
    back = [done.filed for done, on in reopened if cleared.covers(on)]
    if found.filed > cleared.filed:
        return not any(cleared.filed < filed < found.filed for filed in back)
    return not any(cleared.filed < filed for filed in back)
