"""A search that steers towards danger, by splitting (Kahn and Harris, 1951; RESTART, 1991).

Sessions are played by chance. Those that came nearest to danger are played again up to where they
first did, and from there on by another chance; of these again the nearest, and so on. What was
reached, and how rare that is, tells how hard the search looked: the share of the sessions that
came to each level, multiplied, is how often chance alone would come there.

Danger is how far what the engine believes is from what the crew believes and what is true: an item
that stands as good and was called bad last or truly is, another position, another power, words
that went astray. Nothing of it judges a session; that is the judge's.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Final

from voicecheck.checklist.loader import Loaded
from voicecheck.engine.state import Outcome as Stands
from voicecheck.measure.intervals import clopper_pearson
from voicecheck.measure.table import Cell, Table
from voicecheck.rehearsal.fast import FastLoop
from voicecheck.rehearsal.forked import Forked, Forks
from voicecheck.rehearsal.judge import Cause
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms, play_fast
from voicecheck.world.acts import Utterance
from voicecheck.world.processes import side_by_side
from voicecheck.world.truth import truly_bad

NEAREST: Final = 5
"""One session of so many is taken to the next level."""
LEVELS: Final = 6
_SHARE: Final = 25


@dataclass(frozen=True, slots=True)
class Path:
    """One session: its number, and where its chance was turned."""

    number: int
    forks: Forks = ()


@dataclass(frozen=True, slots=True)
class Reached:
    """A path, how near it came, and after how many draws it first came so near as each level."""

    path: Path
    first: dict[int, int]
    outcome: Outcome

    @property
    def danger(self) -> int:
        """The highest level."""
        return max(self.first, default=0)


@dataclass(slots=True)
class Level:
    """One round of the search. share: of the round before that came as near as this one begins."""

    danger: int
    share: float
    reached: list[Reached] = field(default_factory=list)

    def sessions(self, *causes: Cause) -> int:
        """Sessions in which something stands wrongly by these causes."""
        return sum(any(w.cause in causes for w in r.outcome.judgement.good) for r in self.reached)


class Steered(FastLoop):
    """A session that tells, before each utterance, how near to danger it is."""

    first: dict[int, int]

    def turn(self, said: Utterance, begin: float | None) -> float:
        """As ever."""
        chance = self._chance
        if begin is None and isinstance(chance, Forked):
            self.first.setdefault(self._danger(), chance.draws)
        return super().turn(said, begin)

    def _danger(self) -> int:
        state, memory = self._engine.state, self._crew.memory
        aircraft = self._crew.aircraft
        true = truly_bad(self._crew.checklist, aircraft.wrong_now())
        danger = 2 * (state.position not in (None, memory.position))
        danger += aircraft.selector != (memory.position or aircraft.selector)
        live = aircraft.panel(self._now).buses
        danger += sum(memory.power.get(bus, s) != s for bus, s in state.power.items() if s)
        danger += sum(live[bus] != (s == "on") for bus, s in state.power.items() if s)
        danger += min(3, len(self._crew.account.passed) // 4)
        for item, record in state.records.items():
            if record.now is None or record.now.outcome is not Stands.SATISFACTORY:
                continue
            called = memory.called.get(item)
            danger += 3 * (called is not None and not memory.good(item, memory.called))
            danger += 2 * (item in true)
        return danger


def search(
    cast: list[Loaded], sessions: int, terms: Terms, jobs: int | None, levels: int = LEVELS
) -> Iterator[Level]:
    """The rounds, so many sessions each. cast: the airframes in turn."""
    chance = random.Random(terms.seed)
    paths = [Path(number) for number in range(sessions)]
    level = Level(0, 1.0)
    for round_ in range(levels):
        parts = [paths[at : at + _SHARE] for at in range(0, len(paths), _SHARE)]
        for part in side_by_side(partial(_walked, cast, terms), parts, jobs):
            level.reached += part
        yield level
        dangers = sorted((reached.danger for reached in level.reached), reverse=True)
        nearest = max(dangers[len(dangers) // NEAREST], level.danger + 1)
        taken = [reached for reached in level.reached if reached.danger >= nearest]
        if not taken or round_ == levels - 1:
            return
        level = Level(nearest, len(taken) / len(level.reached))
        paths = [_forked(chance.choice(taken), nearest, way) for way in range(sessions)]


def _forked(reached: Reached, danger: int, way: int) -> Path:
    at = min(draws for level, draws in reached.first.items() if level >= danger)
    kept = tuple(fork for fork in reached.path.forks if fork[0] < at)
    return Path(reached.path.number, (*kept, (at, way)))


def _walked(cast: list[Loaded], terms: Terms, paths: Sequence[Path]) -> list[Reached]:
    return [_walk(cast[path.number % len(cast)], terms, path) for path in paths]


def _walk(loaded: Loaded, terms: Terms, path: Path) -> Reached:
    first: dict[int, int] = {}

    def begins(loop: FastLoop) -> None:
        assert isinstance(loop, Steered)
        loop.first = first

    outcome = play_fast(loaded, path.number, terms, path.forks, Steered, begins)
    return Reached(path, first, outcome)


def table(title: str, levels: Sequence[Level]) -> Table:
    """How hard it looked, and what it saw."""
    rows: list[tuple[Cell, ...]] = []
    there = 1.0
    for level in levels:
        there *= level.share
        played = len(level.reached)
        engine = level.sessions(Cause.ENGINE)
        most = there * clopper_pearson(engine, played)[1]
        by = (level.sessions(cause) for cause in Cause)
        rows.append((level.danger, played, f"{there:.3g}", *by, f"{most:.2g}"))
    columns = ("danger from", "sessions", "of all sessions", *(f"by {c}" for c in Cause))
    notes = (
        "of all sessions: the share that would come so near by chance alone; by: sessions in "
        "which something stands as good and should not; at most: upper 95 % limit, of all "
        "sessions, of those that come so near and where the engine is to blame",
    )
    return Table(title, (*columns, "at most by engine"), tuple(rows), notes)
