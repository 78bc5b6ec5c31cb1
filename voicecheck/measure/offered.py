"""Every state of a checklist in which something else can be said, each with its callouts.

The states are those of a real engine, led there by events: nothing is listed by hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from voicecheck.callouts import Callout
from voicecheck.checklist.resolved import Checklist, Grade, Position, position_key
from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Heard

_WORDS = 0.8
"""Seconds that a callout takes."""


@dataclass(frozen=True, slots=True)
class State:
    """One state.

    name: "between", "at POSITION", "at POSITION after POSITION" (a lamp that must go out is
    being timed), "at POSITION asked" (a yes or no is wanted), "held", "abandoning".
    """

    name: str
    callouts: tuple[Callout, ...]

    def as_json(self) -> dict[str, Any]:
        """JSON-ready; a callout has its key, wordings, stakes, and whether it joins a row."""
        return {
            "state": self.name,
            "callouts": [
                {
                    "callout": callout.key,
                    "phrases": list(callout.phrases),
                    "stakes": callout.stakes.value,
                    "joins": callout.joins,
                }
                for callout in self.callouts
            ],
        }


def states_of(checklist: Checklist) -> tuple[State, ...]:
    """All states, in the order of the checklist; names are unique."""
    return tuple(_states(checklist))


def _states(checklist: Checklist) -> Iterator[State]:
    def state(name: str, *keys: str) -> State:
        """What a fresh engine offers after these calls, one after another."""
        engine = Engine(checklist)
        engine.handle(Began(0.0))
        for number, key in enumerate(keys):
            start = _WORDS * (2 * number + 1)
            engine.handle(Heard(key, "", start, start + _WORDS, 1.0))
        return State(name, tuple(offer.callout for offer in engine.offers().values()))

    yield state("between")
    before: Position | None = None
    for position in checklist.positions:
        here = position_key(position.id)
        yield state(f"at {position.id}", here)
        if before is not None and any(item.window for item in before.items):
            yield state(f"at {position.id} after {before.id}", *_tested(before), here)
        if checklist.buses:
            yield state(f"at {position.id} asked", here, f"power:{checklist.buses[0].id}:on")
        before = position
    yield state("held", "command:stand-by")
    yield state("abandoning", "command:abandon")


def _tested(position: Position) -> Iterator[str]:
    """The calls there, with its power on and everything but the timed lamps good."""
    for bus, state in position.power.items():
        yield from (f"power:{bus}:{state}", "command:affirm")
    yield position_key(position.id)
    for item in position.items:
        for bus, state in item.power.items():
            yield from (f"power:{bus}:{state}", "command:affirm")
        if item.window is None:
            yield next(r.key for r in item.readings if r.grade is Grade.GOOD)
