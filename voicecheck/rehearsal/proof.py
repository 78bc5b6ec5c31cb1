"""Many sessions with random faults, counted: the proof table.

What is counted comes from the crew's own account (rehearsal.judge). Every session depends on
its seed alone, so any of them can be played again.
"""

from __future__ import annotations

import random
import traceback
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Final

from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.resolved import Checklist, Shows
from voicecheck.measure.intervals import clopper_pearson, library
from voicecheck.measure.table import Cell, Table
from voicecheck.rehearsal.aircraft import SETTLED, Aircraft
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.evidence import replayed
from voicecheck.rehearsal.fast import FastLoop
from voicecheck.rehearsal.faults import Fault, faults_from
from voicecheck.rehearsal.judge import Judgement, judge
from voicecheck.rehearsal.manners import Ears, Manners
from voicecheck.rehearsal.sound import SoundLoop
from voicecheck.rehearsal.voices import VOICES
from voicecheck.speech.opening import OpenedEar

_WORD: Final = 0.33
_PAUSE: Final = 0.575
"""Seconds that a simulated crew takes for a word, and between two calls."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What is the same for all sessions of a proof. faults: as a user writes them."""

    faults: str
    manners: Manners
    ears: Ears
    seed: int
    two_crew: float = 0.4
    """Share of sessions with two people, half of them on two channels."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One session, counted. crash: the last line of a traceback, if it came to that.

    faults: as a user writes them. noise_db: None for a quiet room, or without sound. cut: the
    loop ended it, and not the crew. work: seconds of processor time.
    """

    registration: str
    number: int
    faults: tuple[str, ...]
    judgement: Judgement
    asked_again: int
    length: float
    ideal: float
    complete: bool
    crash: str | None = None
    evidence: dict[str, Any] = field(default_factory=dict)
    noise_db: float | None = None
    cut: bool = False
    work: float = field(default=0.0, compare=False)

    @property
    def is_wrong(self) -> bool:
        """Whether it must be shown and kept."""
        judged = self.judgement
        bad = judged.dangerous or judged.careless or judged.false_findings
        return bool(bad or self.crash or self.cut)


def silent_ideal(checklist: Checklist) -> float:
    """Seconds that the test would take a crew to whom nobody says a word, read from its items."""
    calls = [position.select[0] for position in checklist.positions]
    calls += [item.readings[0].phrases[0] for item in checklist.items]
    calls += [bus.on[0] for bus in checklist.buses]
    words = sum(len(call.split()) for call in calls)
    looks = sum(item.shows is not Shows.GOES_OUT for item in checklist.items)
    timed = sum((i.window.lower + i.window.upper) / 2 for i in checklist.items if i.window)
    return words * _WORD + len(calls) * (_PAUSE + 0.1) + looks * SETTLED + timed


def play_fast(loaded: Loaded, number: int, terms: Terms) -> Outcome:
    """One session without sound."""
    crew, faults, chance = _cast(loaded, number, terms)
    loop = FastLoop(loaded.checklist, crew, terms.ears, chance)
    try:
        played = loop.play()
        outcome = _count(loaded, number, faults, crew, played.summary, played.seconds)
        outcome = replace(outcome, cut=played.cut_off)
    except Exception:
        outcome = _crashed(loaded, number, faults, crew)
    if not outcome.is_wrong:
        return outcome
    journal = replayed(loaded.checklist, loop.played.events)
    return replace(outcome, evidence={"journal": journal, **_account(crew)})


def play_sound(
    loaded: Loaded, number: int, terms: Terms, ear: OpenedEar, cache: Path, db: float | None
) -> Outcome:
    """One session through synthesis, noise and listeners."""
    crew, faults, chance = _cast(loaded, number, replace(terms, two_crew=0.0))
    talkers = tuple(chance.sample(VOICES, 2))
    loop = SoundLoop(
        loaded,
        crew,
        ear,
        (talkers[0], talkers[1]),
        cache,
        noise_db=db,
        seed=terms.seed * 100_003 + number,
    )
    played = loop.play()
    outcome = _count(loaded, number, faults, crew, played.summary, played.seconds)
    outcome = replace(outcome, noise_db=db, cut=played.cut_off)
    if not outcome.is_wrong:
        return outcome
    evidence = {"played": played, "talker": asdict(talkers[0]), **_account(crew)}
    return replace(outcome, evidence=evidence)


def _cast(
    loaded: Loaded, number: int, terms: Terms
) -> tuple[Crew, tuple[Fault, ...], random.Random]:
    checklist = loaded.checklist
    chance = random.Random(f"{terms.seed} {checklist.registration} {number}")
    text = terms.faults
    if text == "random":
        text = f"random:{chance.randint(0, 4)}"
    faults = faults_from(text, checklist, chance)
    aircraft = Aircraft(checklist, faults, chance.randrange(2**31))
    second = chance.random() < terms.two_crew
    channels = 2 if second and chance.random() < 0.5 else 1
    crew = Crew(checklist, aircraft, terms.manners, chance, second=second, channels=channels)
    return crew, faults, chance


def _count(
    loaded: Loaded,
    number: int,
    faults: tuple[Fault, ...],
    crew: Crew,
    summary: dict[str, Any],
    seconds: float,
) -> Outcome:
    judgement = judge(loaded.checklist, crew.account, summary)
    return Outcome(
        registration=loaded.checklist.registration,
        number=number,
        faults=tuple(map(str, faults)),
        judgement=judgement,
        asked_again=crew.account.asked_again,
        length=seconds,
        ideal=silent_ideal(loaded.checklist),
        complete=bool(summary["complete"]),
    )


def _account(crew: Crew) -> dict[str, Any]:
    return {"account": [asdict(entry) for entry in crew.account.entries]}


def _crashed(loaded: Loaded, number: int, faults: tuple[Fault, ...], crew: Crew) -> Outcome:
    nothing = Judgement((), (), (), 0, 0, 0)
    told = traceback.format_exc().strip().splitlines()
    registration = loaded.checklist.registration
    return Outcome(
        registration, number, tuple(map(str, faults)), nothing,
        crew.account.asked_again, 0.0, 1.0, False,
        "; ".join(line.strip() for line in told[-3:]),
    )  # fmt: skip


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
    lost: int = 0
    misread: int = 0
    asked: list[int] = field(default_factory=list)
    ratios: list[float] = field(default_factory=list)

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
        self.lost += len(judged.lost)
        self.misread += judged.misread
        self.asked.append(outcome.asked_again)
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
            self.lost,
            f"{self.dangerous}  {share(self.dangerous_sessions, self.sessions)}",
            f"{self.false_findings}  {share(self.false_sessions, self.sessions)}",
            self.misread,
            mean(self.asked),
            mean(self.ratios),
            self.cut,
            self.crashes,
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
    "lost",
    "dangerous misses",
    "false findings",
    "crew misread",
    "asked again",
    "length",
    "cut",
    "crashes",
)
NOTES: Final = (
    "dangerous misses, false findings: how many, and the share of sessions with any; all "
    "intervals 95 % (shares Clopper and Pearson, means by Student's t)",
    "lost: last called bad and logged as not tested or void; asked again: questions a session; "
    "length: of complete sessions, as a multiple of the same calls with nobody answering",
    "a careless yes: a miss of crew and tool together, counted in a row of its own: the crew said "
    "otherwise, or nothing, and then yes to what it was asked instead",
    "cut: ended by the loop, neither by the crew nor by its patience",
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
