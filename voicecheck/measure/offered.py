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
    yield _Crew(checklist).state("between")
    before: Position | None = None
    for position in checklist.positions:
        crew = _Crew(checklist).call(position_key(position.id))
        yield crew.state(f"at {position.id}")
        timed = before is not None and any(item.window for item in before.items)
        if before is not None and timed:
            yield (
                _leaving(checklist, before)
                .call(position_key(position.id))
                .state(f"at {position.id} after {before.id}")
            )
        if checklist.buses:
            bus = checklist.buses[0].id
            yield crew.call(f"power:{bus}:on").state(f"at {position.id} asked")
        before = position
    yield _Crew(checklist).call("command:stand-by").state("held")
    yield _Crew(checklist).call("command:abandon").state("abandoning")


def _leaving(checklist: Checklist, position: Position) -> _Crew:
    """At the position with its power on and everything but the timed lamps called good."""
    crew = _Crew(checklist)
    for bus, state in position.power.items():
        crew.call(f"power:{bus}:{state}").call("command:affirm")
    crew.call(position_key(position.id))
    for item in position.items:
        for bus, state in item.power.items():
            crew.call(f"power:{bus}:{state}").call("command:affirm")
        if item.window is None:
            crew.call(next(r.key for r in item.readings if r.grade is Grade.GOOD))
    return crew


class _Crew:
    """Calls one thing after another to a fresh engine."""

    def __init__(self, checklist: Checklist) -> None:
        self._engine = Engine(checklist)
        self._now = 0.0
        self._engine.handle(Began(0.0))

    def call(self, key: str) -> _Crew:
        self._now += 2 * _WORDS
        self._engine.handle(Heard(key, "", self._now - _WORDS, self._now, 1.0))
        return self

    def state(self, name: str) -> State:
        offered = self._engine.offers().values()
        return State(name, tuple(offer.callout for offer in offered))
