"""A session as it was delivered to the engine, put to the witness."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from voicecheck.engine.effects import Effect, Note, Say
from voicecheck.engine.events import Event
from voicecheck.oracle.plan import Plan
from voicecheck.oracle.witnessing import Witness

NOT_ON_OFFER: Final = "not-on-offer"
"""The note with which the engine leaves a call that nobody could make."""


@dataclass(frozen=True, slots=True)
class Delivered:
    """One event. said: ids of the prompts that it brought. heeded: it was on offer, or no call."""

    event: Event
    said: frozenset[str]
    heeded: bool = True


def delivered(event: Event, effects: Sequence[Effect]) -> Delivered:
    """An event and what came of it."""
    said = frozenset(effect.prompt for effect in effects if isinstance(effect, Say))
    heeded = not any(isinstance(e, Note) and e.kind == NOT_ON_OFFER for e in effects)
    return Delivered(event, said, heeded)


def witnessed(plan: Plan, session: Iterable[Delivered]) -> Witness:
    """What a witness of the whole session knows at its end."""
    witness = Witness.fresh(plan)
    for step in session:
        if step.heeded:
            witness = witness.after(step.event, step.said)
    return witness
