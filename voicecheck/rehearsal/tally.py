"""Many sessions counted: the tables of a proof."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from itertools import product
from typing import Any, Final

from pydantic import TypeAdapter

from voicecheck.measure.intervals import clopper_pearson, library
from voicecheck.measure.table import Cell, Table
from voicecheck.rehearsal.behaviours import CAME_OF, added
from voicecheck.rehearsal.judge import Cause, Row
from voicecheck.rehearsal.outcome import Outcome


@dataclass(slots=True)
class Sums:
    """What a mean and its interval need of many values."""

    count: int = 0
    total: float = 0.0
    squares: float = 0.0

    def take(self, value: float) -> None:
        """One more value."""
        self.count += 1
        self.total += value
        self.squares += value * value

    def __add__(self, other: Sums) -> Sums:
        """The values of both."""
        return Sums(
            self.count + other.count, self.total + other.total, self.squares + other.squares
        )

    def __str__(self) -> str:
        """The mean with its interval, by Student's t."""
        if not self.count:
            return "-"
        middle = self.total / self.count
        if self.count < 2:
            return f"{middle:.2f}"
        spread = max(0.0, (self.squares - self.count * middle**2) / (self.count - 1)) ** 0.5
        half = library("scipy.stats").t.ppf(0.975, self.count - 1) * spread / self.count**0.5
        return f"{middle:.2f} [{middle - half:.2f}, {middle + half:.2f}]"


@dataclass(slots=True)
class Tally:
    """Sums over sessions of one kind, so that no session need be kept.

    items, in_sessions: how much stands as good that should not, by row and cause of it (either may
    be "any"), and how many sessions have any. behaviours: as behaviours.CAME_OF.
    """

    sessions: int = 0
    complete: int = 0
    crashes: int = 0
    faults: int = 0
    called: int = 0
    logged: int = 0
    cut: int = 0
    false_findings: int = 0
    false_sessions: int = 0
    otherwise: int = 0
    lost: int = 0
    misread: int = 0
    items: Counter[str] = field(default_factory=Counter)
    in_sessions: Counter[str] = field(default_factory=Counter)
    asked: Sums = field(default_factory=Sums)
    ratios: Sums = field(default_factory=Sums)
    work: Sums = field(default_factory=Sums)
    seconds: float = 0.0
    behaviours: dict[str, tuple[int, ...]] = field(default_factory=dict)

    def add(self, outcome: Outcome) -> None:
        """One more session."""
        judged = outcome.judgement
        self.sessions += 1
        self.complete += outcome.complete
        self.crashes += outcome.crash is not None
        self.faults += len(outcome.faults)
        self.called += judged.called_bad
        self.logged += judged.found
        self.cut += outcome.cut
        self.false_findings += len(judged.false_findings)
        self.false_sessions += bool(judged.false_findings)
        self.otherwise += len(judged.otherwise)
        self.lost += len(judged.lost)
        self.misread += judged.misread
        found = [
            _key(row, cause)
            for wrong in judged.good
            for row, cause in product((*wrong.rows, _ANY), (wrong.cause, _ANY))
        ]
        self.items.update(found)
        self.in_sessions.update(set(found))
        self.asked.take(outcome.asked_again)
        self.work.take(outcome.work)
        self.seconds += outcome.length
        self.behaviours = added(self.behaviours, outcome.behaviours)
        if outcome.complete:
            self.ratios.take(outcome.length / outcome.ideal)

    def merge(self, other: Tally) -> None:
        """The sessions of another tally as well."""
        self.behaviours = added(self.behaviours, other.behaviours)
        for each in fields(self):
            if each.name != "behaviours":
                setattr(self, each.name, getattr(self, each.name) + getattr(other, each.name))

    def as_json(self) -> Any:
        """JSON-ready; `from_json` reads it."""
        return _AS_JSON.dump_python(self, mode="json")

    @staticmethod
    def from_json(data: object) -> Tally:
        """What `as_json` wrote. Raises ValueError for anything else."""
        return _AS_JSON.validate_python(data)

    def wrong(self, row: str = "any", *causes: str) -> int:
        """Items that stand as good and should not."""
        return sum(self.items[_key(row, cause)] for cause in causes or (_ANY,))

    def row(self, name: str) -> tuple[Cell, ...]:
        """One line of the proof table."""
        return (
            name,
            self.sessions,
            self.complete,
            self.faults,
            self.called,
            share(self.logged, self.called),
            self.otherwise,
            self.lost,
            self.wrong(_ANY, Cause.ENGINE, Cause.HEARING),
            self.wrong(_ANY, Cause.YES, Cause.PASSED),
            self.wrong(_ANY, Cause.CREW),
            f"{self.false_findings}  {share(self.false_sessions, self.sessions)}",
            self.misread,
            str(self.asked),
            str(self.ratios),
            self.cut,
            self.crashes,
            str(self.work),
            round(self.seconds / self.work.total, 1) if self.work.total else None,
        )


_ANY: Final = "any"
_AS_JSON: Final = TypeAdapter(Tally)
COLUMNS: Final = (
    "sessions of",
    "sessions",
    "complete",
    "faults injected",
    "called bad",
    "of these logged",
    "not as called",
    "lost",
    "dangerous misses",
    "with the crew's yes",
    "crew's own",
    "false findings",
    "crew misread",
    "asked again",
    "length",
    "cut",
    "crashes",
    "processor s",
    "faster than real time",
)
NOTES: Final = (
    "dangerous misses: items that stand as good and should not, by engine or hearing; with the "
    "crew's yes: by a yes to what it had not said, or a wrong read-back or missing answer that it "
    "let pass; crew's own: what it misread, or where selector and buses truly were",
    "intervals 95 % (shares Clopper and Pearson, means by Student's t)",
    "not as called: logged bad, but with another lamp or count than was called, or without the "
    "lamp; lost: last called bad and logged as not tested or void; asked again: questions a "
    "session; length: of complete sessions, as a multiple of the same calls with nobody answering",
    "cut: ended by the loop, neither by the crew nor by its patience",
    "processor s: processor time of a session, programs that it runs included; faster than real "
    "time: seconds of all sessions over that",
    "the crew is simulated and no figure is a statement about a real aircraft or crew",
)
_IN_ROWS: Final = (
    "one item may stand in several rows, and no row leaves out what another has; each item has "
    "one cause; rate: of sessions with any, and its 95 % interval (Clopper and Pearson)",
)
_OF_BEHAVIOURS: Final = (
    "asked: voicecheck asked or refused within 10 s; then how the item stands at the end that the "
    "crew called next: as good (of these wrongly, by whatever cause), as a finding, or neither",
)


def _key(row: str, cause: str) -> str:
    return f"{row}, {cause}"


def share(hits: int, trials: int) -> str:
    """A share with its interval, in per cent."""
    low, high = clopper_pearson(hits, trials)
    part = hits / trials if trials else 0.0
    return f"{100 * part:.3g} % [{100 * low:.3g}, {100 * high:.3g}]"


def table(title: str, tallies: Mapping[str, Tally]) -> Table:
    """The proof table, a row for each kind of session."""
    return Table(title, COLUMNS, tuple(t.row(name) for name, t in tallies.items()), NOTES)


def wrongly_good(title: str, tally: Tally) -> Table:
    """What stands as good and should not: three rows, and all together, each cut by cause."""
    rows: list[tuple[Cell, ...]] = []
    for row in (*Row, _ANY):
        sessions = tally.in_sessions[_key(row, _ANY)]
        causes = [f"{tally.items[_key(row, c)]} ({tally.in_sessions[_key(row, c)]})" for c in Cause]
        low, high = (1e6 * bound for bound in clopper_pearson(sessions, tally.sessions))
        million = 1e6 * sessions / tally.sessions if tally.sessions else 0.0
        told = f"{million:.4g} [{low:.4g}, {high:.4g}]"
        rows.append(
            (f"{row}, recorded good", tally.items[_key(row, _ANY)], sessions, *causes, told)
        )
    causes = [f"by {cause}: items (sessions)" for cause in Cause]
    columns = ("row", "items", "sessions", *causes, "sessions in a million")
    return Table(title, columns, tuple(rows), _IN_ROWS)


def came_of(title: str, tally: Tally) -> Table:
    """Each behaviour, how often it was generated, and what came of it."""
    rows: list[tuple[Cell, ...]] = []
    for name, counts in sorted(tally.behaviours.items()):
        rows.append((name.replace("_", " "), *counts))
    return Table(title, ("behaviour", *CAME_OF), tuple(rows), _OF_BEHAVIOURS)
