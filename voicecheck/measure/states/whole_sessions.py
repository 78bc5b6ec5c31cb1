"""Long sessions over a whole checklist, with a crew that mostly does what comes next.

The walks of graph.py are complete but small; these are large but sampled. The crew is drawn
from a seed: it follows the checklist, makes mistakes, changes its mind, is interrupted, and
speaks with pauses and lengths that are not round, so that the starts and ends of calls matter.
Each step is checked as in a walk, and one session in so many is replayed at the end. Most are
broken off early, as by a flat battery: an end with something open is where a doubt shows.
"""

from __future__ import annotations

from random import Random
from time import perf_counter
from typing import Final, NamedTuple

from voicecheck.checklist.resolved import Checklist, Item
from voicecheck.engine import Engine
from voicecheck.engine.effects import Effect
from voicecheck.engine.events import (
    Began,
    Ended,
    Event,
    Heard,
    KeyPressed,
    Lost,
    Overheard,
    Part,
    Passed,
    Prompted,
    Restored,
    Unclear,
)
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, SessionState
from voicecheck.measure.states.found import Graph, Problem
from voicecheck.oracle.invariants import Texts, take
from voicecheck.oracle.plan import Plan
from voicecheck.oracle.witnessing import Witness

LONGEST: Final = 400
"""Events after which the sound ends."""
_BROKEN_OFF: Final = 0.95
"""Share of sessions that end between these numbers of events."""
_SOON: Final = (15, 60)
_REPLAY_EVERY: Final = 10
CREWS: Final = (Began(0.0), Began(0.0, second=True), Began(0.0, second=True, channels=2))
_ASTRAY: Final = 0.25
"""Share of events that do not follow the checklist."""
_BAD: Final = 0.15
"""Share of calls in which an item is called bad."""


class Sessions(NamedTuple):
    """Some of the sessions that a seed gives: those numbered from `first` to before `end`."""

    checklist: Checklist
    seed: int
    first: int
    end: int


def whole_sessions(wanted: Sessions) -> Graph:
    """Play them; transitions are their events, depth is the longest session."""
    checklist = wanted.checklist
    graph, plan, texts = Graph(closed=False), Plan(checklist), Texts(checklist)
    began = perf_counter()
    for number in range(wanted.first, wanted.end):
        random = Random(f"{wanted.seed} {checklist.registration} {number}")
        longest = random.randint(*_SOON) if random.random() < _BROKEN_OFF else LONGEST
        crew = _Crew(plan, random)
        events, made = _session(crew, texts, CREWS[number % len(CREWS)], graph, longest)
        graph.transitions += len(events)
        graph.depth = max(graph.depth, len(events))
        if number % _REPLAY_EVERY == 0 and _played_again(checklist, events) != made:
            graph.problems.append(Problem("replay", "the same events gave others", tuple(events)))
    graph.seconds = perf_counter() - began
    return graph


def _played_again(checklist: Checklist, events: list[Event]) -> list[list[Effect]]:
    engine = Engine(checklist)
    return [engine.handle(event) for event in events]


def _session(
    crew: _Crew, texts: Texts, began: Began, graph: Graph, longest: int
) -> tuple[list[Event], list[list[Effect]]]:
    plan, engine, witness = crew.plan, Engine(crew.plan.checklist), Witness.fresh(crew.plan)
    events: list[Event] = []
    made: list[list[Effect]] = []
    while engine.phase is not Phase.FINISHED:
        event = began if not events else crew.next(engine)
        if len(events) == longest:
            event = Ended(engine.state.now, "the sound is over")
        events.append(event)
        step, wrong = take(plan, texts, engine, witness, engine.offers(), event)
        graph.problems += [Problem(name, what, tuple(events)) for name, what in wrong]
        if step is None:
            return events[:-1], made
        made.append(list(step.effects))
        witness = step.witness
    return events, made


class _Crew:
    def __init__(self, plan: Plan, random: Random) -> None:
        self.plan = plan
        self.random = random

    def next(self, engine: Engine) -> Event:
        """What happens next; speech never begins before time that has been waited for."""
        now = engine.state.now
        if self.random.random() < _ASTRAY:
            return self.astray(engine, now)
        key = self.due(engine)
        if key in engine.offers():
            return self.say(key, engine)
        return self.say(self.random.choice(list(engine.offers())), engine)

    def say(self, key: str, engine: Engine) -> Event:
        now, window = engine.state.now, next(iter(engine.state.windows), None)
        start = now + self.random.uniform(0.1, 2)
        spoken = self.plan.readings.get(key)
        if window is not None and spoken is not None and spoken.item.id == window.item:
            limits = spoken.item.window
            assert limits is not None
            start = max(now, window.anchor + self.random.uniform(0, 1.5) * limits.upper)
        if self.random.random() < 0.05:
            return KeyPressed(key, start)
        length, channel = self.random.uniform(0.3, 1.5), self.random.randrange(2)
        return Heard(key, key, start, start + length, 1.0, channel)

    def astray(self, engine: Engine, now: float) -> Event:
        draw, at = self.random.random(), now + self.random.uniform(0.1, 3)
        keys = list(engine.offers())
        if draw < 0.55:
            # "Abandon" would end most sessions early; it stays rare.
            few = [key for key in keys if not key.startswith(("reason:", "command:abandon"))]
            return self.say(self.random.choice(keys if draw < 0.02 else few), engine)
        if draw < 0.7:
            guess = tuple(self.random.sample(keys, min(len(keys), self.random.randrange(3))))
            return Unclear(now + 0.1, at + 0.1, guess, self.random.randrange(2))
        if draw < 0.75:
            return Overheard(now + 0.1, at + 0.1)
        if draw < 0.85:
            due = engine.wake if engine.wake is not None else at
            return Passed(max(now, due + self.random.choice((-0.01, 0.0, 5.0))))
        if draw < 0.93:
            return Prompted(now, at)
        if engine.state.lost and draw < 0.98:
            return Restored(engine.state.lost[0], at)
        return Lost(self.random.choice((Part.MICROPHONE, Part.SESSION, Part.VOICE)), at)

    def due(self, engine: Engine) -> str:
        """Key of the callout that the checklist wants next."""
        state = engine.state
        if engine.phase is Phase.HELD:
            return "command:resume"
        if state.question is not None:
            claims = state.question.ask is Ask.CLAIMS
            return "command:affirm" if claims else "command:negative"
        if state.windows:
            return self.plan.items[state.windows[0].item].readings[0].key
        for item in self.here(state):
            return self.towards(state, item)
        for position in self.plan.checklist.positions[:-1]:
            if position.id != state.position and any(
                self.open(state, item) for item in position.items
            ):
                return f"select:{position.id}"
        rest = self.plan.checklist.positions[-1]
        return "command:complete" if state.position == rest.id else "selector:off"

    def towards(self, state: SessionState, item: Item) -> str:
        """The power that the item needs, then a call of it or of a stage before it."""
        for bus, needed in self.plan.needs[item.id].items():
            if state.power.get(bus) != needed:
                return f"power:{bus}:{needed}"
        called = self.first_stage(state, item)
        grades = called.readings[1:] if self.random.random() < _BAD else called.readings
        return (grades or called.readings)[0].key

    def here(self, state: SessionState) -> list[Item]:
        """Open items of this position that are called while the selector is there."""
        if state.position is None:
            return []
        items = self.plan.positions[state.position].items
        return [i for i in items if i.window is None and self.open(state, i)]

    def first_stage(self, state: SessionState, item: Item) -> Item:
        """The item itself, or the first stage before it that is not called in this visit."""
        for needed in item.after:
            record = state.records.get(needed)
            if record is None or record.now is None or record.now.visit != state.visit:
                return self.first_stage(state, self.plan.items[needed])
        return item

    def open(self, state: SessionState, item: Item) -> bool:
        record = state.records.get(item.id)
        counted = record is not None and record.now is not None and record.now.counted
        return not counted and not any(self.failed(state, needed) for needed in item.after)

    def failed(self, state: SessionState, item_id: str) -> bool:
        record = state.records.get(item_id)
        now = record.now if record is not None else None
        return now is not None and now.outcome.value == "unsatisfactory"
