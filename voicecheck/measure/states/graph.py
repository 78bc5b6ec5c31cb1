"""The walk over one sub-checklist: every state, every move, every check, and a way out.

Breadth first, so that the first path to a problem is a short one. A node is an engine state and
a witness; those with one canonical form are one node, and its first path stands for all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from time import perf_counter
from typing import Final, NamedTuple

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import Engine
from voicecheck.engine.context import GAP
from voicecheck.engine.events import Event
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import SessionState
from voicecheck.measure.states.canonical import canonical, witnessed
from voicecheck.measure.states.found import Graph, Problem
from voicecheck.measure.states.moves import Move, after_the_end, moves
from voicecheck.oracle.invariants import Step, Texts, prompts_of, take
from voicecheck.oracle.plan import Key, Plan
from voicecheck.oracle.witnessing import Witness

REPLAY_EVERY: Final = 97
"""One node in so many is reached again by fresh engines."""
TWINS_EVERY: Final = 499
"""One event in so many that leads to a known state puts its own state beside that one."""
_ALIKE: Final = 0.02
"""Seconds by which the ages of two open questions, or of two holds, differ at the most if the next
events find both on the same side of every limit."""
_YOUNG: Final = (0.0, GAP - 20.0)
"""Ages of a question and of a hold up to which no move of one wait comes to a limit of theirs."""
ENOUGH: Final = 20
"""Problems of different kinds after which a walk stops."""
_GIVING_UP: Final = ("command:abandon", "reason:")


class Node(NamedTuple):
    """A state and how it was reached: `events` since the node `parent` (-1: since nothing)."""

    state: SessionState
    witness: Witness
    parent: int
    events: tuple[Event, ...]
    depth: int


def walk(
    checklist: Checklist,
    starts: Sequence[Sequence[Event]],
    *,
    thorough: bool,
    limit: int | None = None,
) -> Graph:
    """Walk a checklist from where the starts lead to its last state, or to `limit` states."""
    return _Walk(checklist, thorough=thorough).run(starts, limit)


def _these(events: Sequence[Event], _engine: Engine) -> Iterator[Event]:
    yield from events


class _Walk:
    def __init__(self, checklist: Checklist, *, thorough: bool) -> None:
        self.plan = Plan(checklist)
        self.texts = Texts(checklist)
        self.engine = Engine(checklist)
        self.thorough = thorough
        self.nodes: list[Node] = []
        self.known: dict[tuple[Key, Key], int] = {}
        self.edges: list[list[tuple[int, bool]]] = []
        """Of each node: where a callout leads, and whether it gives up."""
        self.twins: list[tuple[int, Node]] = []
        """Nodes, and other states that were merged with them."""
        self.graph = Graph()
        self._found: set[tuple[str, str]] = set()

    def run(self, starts: Sequence[Sequence[Event]], limit: int | None) -> Graph:
        graph, began = self.graph, perf_counter()
        for events in starts:
            self.engine = Engine(self.plan.checklist)
            witness = Witness.fresh(self.plan)
            origin = Node(self.engine.state, witness, -1, (), 0)
            self.drive(origin, -1, Move("start", partial(_these, events)))
        done = self.expand_all(limit)
        graph.closed = done == len(self.nodes)
        graph.states = len(self.nodes)
        if self.nodes:  # none where the very first event breaks a rule
            graph.depth = self.nodes[done - 1 if graph.closed else done].depth
        if graph.closed and not graph.problems:  # a state that breaks a rule leads nowhere
            self.ways_out()
        for index, twin in self.twins if not graph.problems else ():
            self.compare(index, twin)
        for index in range(0, len(self.nodes), REPLAY_EVERY):
            self.replay(index)
        graph.seconds = perf_counter() - began
        return graph

    def expand_all(self, limit: int | None) -> int:
        """Expand node after node; how many were, until there are no more or it is enough."""
        done = 0
        while done < len(self.nodes) and len(self.graph.problems) < ENOUGH:
            if limit is not None and len(self.nodes) >= limit:
                break
            self.expand(done)
            done += 1
        return done

    def expand(self, index: int) -> None:
        """Make every move of a node."""
        node = self.nodes[index]
        if node.state.phase is Phase.FINISHED:
            self.put(node)
            for event in after_the_end(self.engine, self.plan):
                if self.engine.handle(event) or self.engine.offers():
                    self.report(index, (event,), "silence", "something follows the end")
            return
        self.put(node)
        for move in list(moves(self.engine, self.plan, thorough=self.thorough)):
            self.put(node)
            to = self.drive(node, index, move)
            if to >= 0 and move.waits and self.engine.wake is not None:
                self.report(index, (), "time", "however long it is waited, more is due")
            if move.offer is not None and to >= 0:
                self.edges[index].append((to, move.offer.startswith(_GIVING_UP)))

    def put(self, node: Node) -> None:
        """Bring the engine to a node's state."""
        self.engine.state = node.state

    def drive(self, origin: Node, index: int, move: Move) -> int:
        """Feed the events of a move; the index of where they led, -1 for a broken invariant."""
        trail: list[Event] = []
        witness, to = origin.witness, index
        for event in move.events(self.engine):
            trail.append(event)
            step = self.step(index, tuple(trail), witness)
            if step is None:
                return -1
            witness = step.witness
            to = self.find(step, origin, index, tuple(trail))
        return to

    def step(self, index: int, trail: tuple[Event, ...], witness: Witness) -> Step | None:
        """Handle the last event of the trail and check it; None when something is wrong."""
        self.graph.transitions += 1
        step, wrong = take(self.plan, self.texts, self.engine, witness, self.offered(), trail[-1])
        for invariant, what in wrong:
            self.report(index, trail, invariant, what)
        return step

    def offered(self) -> set[str]:
        """Keys of what the engine listens for."""
        return set(self.engine.offers())

    def find(self, step: Step, origin: Node, index: int, trail: tuple[Event, ...]) -> int:
        """The node of the state that the engine is in, made when it is new."""
        engine, witness = self.engine, step.witness
        key = self.form(witness)
        known = self.known.setdefault(key, len(self.nodes))
        new = known == len(self.nodes)
        if new or self.graph.transitions % TWINS_EVERY == 0:
            made = Node(engine.state, witness, index, trail, origin.depth + 1)
            if new:
                self.nodes.append(made)
                self.edges.append([])
            elif engine.phase is not Phase.FINISHED and not _by_age(
                engine.state, self.nodes[known]
            ):
                self.twins.append((known, made))
        return known

    def form(self, witness: Witness) -> tuple[Key, Key]:
        """What the state that the engine is in, with this witness, is known by."""
        form = canonical(self.plan, self.engine.state)
        return form, () if self.engine.phase is Phase.FINISHED else witnessed(witness)

    def path(self, index: int) -> tuple[Event, ...]:
        """The events that lead to a node."""
        parts: list[tuple[Event, ...]] = []
        while index >= 0:
            parts.append(self.nodes[index].events)
            index = self.nodes[index].parent
        return tuple(event for part in reversed(parts) for event in part)

    def report(self, index: int, trail: tuple[Event, ...], invariant: str, what: str) -> None:
        """Keep the first of each problem."""
        if (invariant, what) not in self._found:
            self._found.add((invariant, what))
            self.graph.problems.append(Problem(invariant, what, self.path(index) + trail))

    def ways_out(self) -> None:
        """From every state callouts must lead to the end, and to a complete test."""
        ended = [i for i, node in enumerate(self.nodes) if node.state.phase is Phase.FINISHED]
        covered = [i for i in ended if self.nodes[i].state.complete]
        for invariant, goals, giving_up in (("way out", ended, True), ("way on", covered, False)):
            reached = self.reaching(goals, giving_up=giving_up)
            for index in range(len(self.nodes)):
                if index not in reached and self.nodes[index].state.phase is not Phase.FINISHED:
                    self.report(index, (), invariant, "no callouts lead there")

    def reaching(self, goals: Sequence[int], *, giving_up: bool) -> set[int]:
        """Nodes from which callouts lead to a goal."""
        back: list[list[int]] = [[] for _ in self.nodes]
        for index, edges in enumerate(self.edges):
            for to, gives_up in edges:
                if giving_up or not gives_up:
                    back[to].append(index)
        reached, open_ = set(goals), list(goals)
        while open_:
            for index in back[open_.pop()]:
                if index not in reached:
                    reached.add(index)
                    open_.append(index)
        return reached

    def replay(self, index: int) -> None:
        """Fresh engines must make of a node's events the same effects and the same state."""
        node, events = self.nodes[index], self.path(index)
        engines = Engine(self.plan.checklist), Engine(self.plan.checklist)
        once, twice = ([engine.handle(event) for event in events] for engine in engines)
        same = all(engine.state == node.state for engine in engines)
        if once != twice or not same:
            self.report(index, (), "replay", "the same events did not give the same again")

    def compare(self, index: int, twin: Node) -> None:
        """Merged states must have the same futures, move by move."""
        one, other = self.futures(self.nodes[index]), self.futures(twin)
        if one != other:
            self.report(index, (), "merge", "two states were merged and lead to different ones")

    def futures(self, node: Node) -> dict[str, set[tuple[Key, Key]]]:
        """Where each move of a node leads, itself included; moves that are alike are one."""
        self.put(node)
        here = self.form(node.witness)
        found: dict[str, set[tuple[Key, Key]]] = {}
        for move in list(moves(self.engine, self.plan, thorough=self.thorough)):
            if node.state.phase is Phase.HELD and move.name.startswith("lose"):
                continue  # what comes back resumes as the crew does, see canonical.py
            self.put(node)
            witness, ends = node.witness, found.setdefault(self.plan.kind(move.name), {here})
            for event in move.events(self.engine):
                witness = witness.after(event, prompts_of(self.engine.handle(event)))
                ends.add(self.form(witness))
        return found


def _by_age(state: SessionState, known: Node) -> bool:
    """Whether ages, kept in ranges alone, decide what follows: twins differ in when, not what."""
    apart = [
        one is not None and two is not None and abs(one - two) > _ALIKE and max(one, two) > young
        for one, two, young in zip(_ages(state), _ages(known.state), _YOUNG, strict=True)
    ]
    return any(apart) or bool(state.windows) or state.missed_from is not None


def _ages(state: SessionState) -> tuple[float | None, float | None]:
    """Seconds since the open question was put, and since the hold began."""
    since = (state.question.asked_at if state.question else None, state.held_from)
    asked, held = (None if at is None else state.now - at for at in since)
    return asked, held
