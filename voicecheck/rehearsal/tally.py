"""Many sessions counted: the proof table."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Final

from voicecheck.measure.intervals import clopper_pearson, library
from voicecheck.measure.table import Cell, Table
from voicecheck.rehearsal.outcome import Outcome


@dataclass(slots=True)
class Tally:
    """Sums over sessions of one kind, so that no session need be kept."""

    sessions: int = 0
    complete: int = 0
    crashes: int = 0
    faults: int = 0
    called: int = 0
    logged: int = 0
    dangerous: int = 0
    dangerous_sessions: int = 0
    careless: int = 0
    careless_sessions: int = 0
    cut: int = 0
    false_findings: int = 0
    false_sessions: int = 0
    otherwise: int = 0
    lost: int = 0
    misread: int = 0
    asked: list[int] = field(default_factory=list)
    ratios: list[float] = field(default_factory=list)
    work: list[float] = field(default_factory=list)
    seconds: float = 0.0

    def add(self, outcome: Outcome) -> None:
        """One more session."""
        judged = outcome.judgement
        self.sessions += 1
        self.complete += outcome.complete
        self.crashes += outcome.crash is not None
        self.faults += len(outcome.faults)
        self.called += judged.called_bad
        self.logged += judged.found
        self.dangerous += len(judged.dangerous)
        self.dangerous_sessions += bool(judged.dangerous)
        self.careless += len(judged.careless)
        self.careless_sessions += bool(judged.careless)
        self.cut += outcome.cut
        self.false_findings += len(judged.false_findings)
        self.false_sessions += bool(judged.false_findings)
        self.otherwise += len(judged.otherwise)
        self.lost += len(judged.lost)
        self.misread += judged.misread
        self.asked.append(outcome.asked_again)
        self.work.append(outcome.work)
        self.seconds += outcome.length
        if outcome.complete:
            self.ratios.append(outcome.length / outcome.ideal)

    def merge(self, other: Tally) -> None:
        """The sessions of another tally as well."""
        for each in fields(self):
            setattr(self, each.name, getattr(self, each.name) + getattr(other, each.name))

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
            f"{self.dangerous}  {share(self.dangerous_sessions, self.sessions)}",
            f"{self.false_findings}  {share(self.false_sessions, self.sessions)}",
            self.misread,
            mean(self.asked),
            mean(self.ratios),
            self.cut,
            self.crashes,
            mean(self.work),
            round(self.seconds / sum(self.work), 1) if any(self.work) else None,
        )

    def row_of_careless(self, name: str) -> tuple[Cell, ...]:
        """The line of what stands as good only by a yes of the crew to what it had not said."""
        cells: dict[str, Cell] = {
            "sessions of": f"{name}: good after a careless yes to a misheard call",
            "sessions": self.sessions,
            "dangerous misses": (
                f"{self.careless}  {share(self.careless_sessions, self.sessions)}"
            ),
        }
        return tuple(cells.get(column) for column in COLUMNS)


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
    "dangerous misses, false findings: how many, and the share of sessions with any; all "
    "intervals 95 % (shares Clopper and Pearson, means by Student's t)",
    "not as called: logged bad, but with another lamp or count than was called, or without the "
    "lamp; lost: last called bad and logged as not tested or void; asked again: questions a "
    "session; length: of complete sessions, as a multiple of the same calls with nobody answering",
    "a careless yes: a miss of crew and tool together, counted in a row of its own: the crew said "
    "otherwise, or nothing, and then yes to what it was asked instead",
    "cut: ended by the loop, neither by the crew nor by its patience",
    "processor s: processor time of a session, programs that it runs included; faster than real "
    "time: seconds of all sessions over that",
    "the crew is simulated and no figure is a statement about a real aircraft or crew",
)


def share(hits: int, trials: int) -> str:
    """A share with its interval, in per cent."""
    low, high = clopper_pearson(hits, trials)
    part = hits / trials if trials else 0.0
    return f"{100 * part:.3g} % [{100 * low:.3g}, {100 * high:.3g}]"


def mean(values: list[int] | list[float]) -> str:
    """A mean with its interval."""
    if not values:
        return "-"
    middle = sum(values) / len(values)
    if len(values) < 2:
        return f"{middle:.2f}"
    spread = (sum((v - middle) ** 2 for v in values) / (len(values) - 1)) ** 0.5
    half = library("scipy.stats").t.ppf(0.975, len(values) - 1) * spread / len(values) ** 0.5
    return f"{middle:.2f} [{middle - half:.2f}, {middle + half:.2f}]"


def table(title: str, tallies: dict[str, Tally]) -> Table:
    """The proof table, two rows for each kind of session: voicecheck alone, and with its crew."""
    rows: list[tuple[Cell, ...]] = []
    for name, tally in tallies.items():
        rows += [tally.row(name), tally.row_of_careless(name)]
    return Table(title, COLUMNS, tuple(rows), NOTES)
