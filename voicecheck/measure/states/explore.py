"""Every state of the engine on the shipped checklists, as far as it can be walked, and checked.

A bounded model check. The product of all positions of a checklist is far too large (some 10^20
states for thirty items), so it is taken apart, and each part is walked to the last state:

alone       each chain of items with everything that can happen: every callout, time to just
            before, at and beyond every deadline, parts lost and back, unclear speech with and
            without a guess, the end; by one crew member and by two with one and two microphones
pair        each two chains that can meet (slices.py), with every event that can change a result
power       each chain under all buses at once
position    a whole position with the rest position, to a stated number of states
sessions    the whole checklist, sampled: long sessions of a fallible crew (whole_sessions.py)

Why this covers what it claims, and no more:

* *Two chains are enough for a rule.* A decision of the engine looks at the item that was called
  (with the chain it belongs to) and at most at one more that it remembers: in the open
  question, as the last call, as the lamp asked for, as half a read-back. Lists over all items
  (missing, outstanding, complete) treat each item alone. A rule that is broken shows with two
  chains; that no rule breaks only with three is argued, not proven. Positions and sessions
  search there.
* *Merging states is sound for what is checked.* Two states are merged when engine and witness
  have the same canonical form. What the form drops (canonical.py says what and why) no
  decision reads, or gates a prompt alone and is driven to its end from every state (moves.py).
  So merged states have the same futures up to dropped facts, and an invariant that can be
  broken from one can be broken from the other. The invariants speak of outcomes, prompts,
  offers and ways, which are functions of the form and the event; "say again" and the replay are
  checked on the first path to each state. A sample of merged states is put side by side and
  must lead to the same states, move by move (but for running windows and words not understood:
  there two ages of one range differ in how soon the next range begins, and every later range is
  sampled from both).
* *Alike sub-checklists are walked once* (slices.py). Of readings that are alike (same item and
  grade) the one that stands and one other are called.
* *Time* is sampled at both sides of every limit; verdicts are constant in between. Calls take
  no time worth mentioning there; in sessions they take as long as speech does.

Invariants: oracle/invariants.py. What may stand is known from oracle/witness.py, which hears the
same events and never looks at the engine's state.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final, NamedTuple

from voicecheck.checklist.resolved import Checklist, position_key
from voicecheck.engine.events import Began, Event, Heard
from voicecheck.measure.states.found import Graph, Problem
from voicecheck.measure.states.graph import walk
from voicecheck.measure.states.slices import KINDS, Slice, signature, slices
from voicecheck.measure.states.whole_sessions import CREWS, Sessions, whole_sessions
from voicecheck.measure.table import Table
from voicecheck.world.processes import side_by_side

ENDLESS: Final[Mapping[str, int | None]] = {
    "alone": None,
    "pair": None,
    "power": None,
    "position": 2000,
}
"""States of each sub-checklist, by kind; None: to the last one. Hours."""
FULL: Final[Mapping[str, int | None]] = {
    "alone": 4000,
    "pair": 2000,
    "power": 5000,
    "position": 300,
}
"""Most sub-checklists to the last state; those with three stages, a timed lamp or a read-back
under all buses to a depth. Under ten minutes on one core."""
QUICK: Final[Mapping[str, int | None]] = {"alone": 80, "pair": 60, "power": 60, "position": 30}
"""For a test: every sub-checklist, to some depth. Well under a minute."""
SEED: Final = 20261125
AT_A_TIME: Final = 200
"""Sessions that one process plays before it takes others."""


@dataclass(frozen=True, slots=True)
class Row:
    """What was walked of one kind in one checklist.

    slices: sub-checklists or sessions; alike: how many of them were walked for another one
    before. states, transitions: of those walked now; of sessions no states. depth: moves from the
    start (and from the first position under its power, see `ready`) up to which all is walked;
    None when it is closed, which means to the last state; of sessions the longest, in events.
    seconds: of all processes together.
    """

    checklist: str
    kind: str
    slices: int
    alike: int
    states: int
    transitions: int
    depth: int | None
    seconds: float
    problems: tuple[Problem, ...]


def explore_fleet(
    checklists: Sequence[Checklist],
    limits: Mapping[str, int | None] = FULL,
    *,
    sessions: int = 30,
    seed: int = SEED,
    jobs: int | None = 1,
    said: Callable[[Row], None] = lambda row: None,
) -> list[Row]:
    """Walk checklists.

    limits: kinds to walk, with the states of each sub-checklist at which to stop. sessions:
    long sessions for each checklist. jobs: processes, None: one for each processor. said: told
    each row as soon as it is there.
    """
    parts = list(_parts(checklists, limits, sessions, seed))
    graphs = side_by_side(_walked, [part.work for part in parts if part.work], jobs)
    rows: list[Row] = []
    for _, of_row in groupby(parts, key=lambda part: part.row):
        row = list(of_row)
        first = row[0]
        made = [next(graphs) for part in row if part.work]
        rows.append(_row(first.row, first.slices, first.alike, made))
        said(rows[-1])
    return rows


class _Walk(NamedTuple):
    """One walk of a sub-checklist by one crew, to `limit` states."""

    piece: Slice
    crew: Began
    limit: int | None


class _Part(NamedTuple):
    """What one process does at a time for a row: a walk, some sessions, or nothing.

    row: registration and kind.
    """

    row: tuple[str, str]
    slices: int
    alike: int
    work: _Walk | Sessions | None


def _parts(
    checklists: Sequence[Checklist], limits: Mapping[str, int | None], sessions: int, seed: int
) -> Iterator[_Part]:
    known: set[tuple[object, ...]] = set()
    for checklist in checklists:
        for kind in KINDS:
            if kind in limits:
                cut = list(slices(checklist, (kind,)))
                fresh = [piece for piece in cut if _is_new(piece, known)]
                part = _Part((checklist.registration, kind), len(cut), len(cut) - len(fresh), None)
                yield part
                for piece in fresh:
                    for crew in _crews(piece):
                        yield part._replace(work=_Walk(piece, crew, limits[kind]))
        for first in range(0, sessions, AT_A_TIME):
            some = Sessions(checklist, seed, first, min(sessions, first + AT_A_TIME))
            yield _Part((checklist.registration, "sessions"), sessions, 0, some)


def _walked(work: _Walk | Sessions) -> Graph:
    if isinstance(work, Sessions):
        return whole_sessions(work)
    checklist, crew = work.piece.checklist, work.crew
    starts = [(crew,)] if work.limit is None else [(crew,), ready(checklist, crew)]
    return walk(checklist, starts, thorough=work.piece.kind == "alone", limit=work.limit)


def _is_new(piece: Slice, known: set[tuple[object, ...]]) -> bool:
    mark = (piece.kind, *signature(piece.checklist))
    new = mark not in known
    known.add(mark)
    return new


def _crews(piece: Slice) -> Sequence[Began]:
    marked = any(item.read_back for item in piece.checklist.items)
    # Only marked items know of a second crew member. With two chains they are walked by two
    # crew with two microphones: one alone is as unmarked items are, and are walked elsewhere.
    return CREWS[:1] if not marked else CREWS[2:] if piece.kind == "pair" else CREWS


def ready(checklist: Checklist, crew: Began) -> tuple[Event, ...]:
    """The first position selected under its power: where a walk that stops early starts too."""
    position = next(place for place in checklist.positions if place.items)
    keys = []
    for bus, state in {**position.power, **position.items[0].power}.items():
        keys += [f"power:{bus}:{state}", "command:affirm"]
    keys.append(position_key(position.id))
    # Three seconds apart: each question has sounded before its yes.
    calls = (Heard(key, key, 3 * n + 2.2, 3 * n + 3.0, 1.0) for n, key in enumerate(keys))
    return (crew, *calls)


def _row(row: tuple[str, str], cut: int, alike: int, graphs: Sequence[Graph]) -> Row:
    registration, kind = row
    open_ = [graph.depth for graph in graphs if not graph.closed]
    return Row(
        checklist=registration,
        kind=kind,
        slices=cut,
        alike=alike,
        states=sum(graph.states for graph in graphs),
        transitions=sum(graph.transitions for graph in graphs),
        depth=_depth(kind, open_),
        seconds=sum(graph.seconds for graph in graphs),
        problems=tuple(problem for graph in graphs for problem in graph.problems),
    )


def _depth(kind: str, open_: Sequence[int]) -> int | None:
    """The least depth of the walks that did not come to their end, or the longest session."""
    if not open_:
        return None
    return max(open_) if kind == "sessions" else min(open_)


def table(rows: Sequence[Row]) -> Table:
    """The rows for people and programs; each problem is a note."""
    columns = (
        "checklist",
        "what",
        "parts",
        "as before",
        "states",
        "transitions",
        "depth",
        "problems",
        "s",
    )
    cells = tuple(
        (
            row.checklist,
            row.kind,
            row.slices,
            row.alike,
            row.states or "",
            row.transitions,
            "" if row.slices == row.alike else "closed" if row.depth is None else str(row.depth),
            len(row.problems),
            round(row.seconds, 1),
        )
        for row in rows
    )
    notes = (
        "alone, pair, power: sub-checklists of one or two chains of items, to the last state "
        "unless a depth is given; position: whole positions; sessions: sampled.",
        "as before: alike to one that was walked already. depth: moves up to which all is walked.",
        *(f"{row.checklist} {row.kind}: {problem}" for row in rows for problem in row.problems),
    )
    return Table("States of the engine", columns, cells, notes)
