"""The phases of a session as a table: which trigger leads from where to where.

starting    nothing has happened yet
between     no test position is selected yet, or the last call of one was taken back
testing     the selector is at a position and its items can be called
at-rest     the selector is back at off
held        the crew said stand by, or a part was lost
finished    the summary is written; nothing changes any more
"""

from __future__ import annotations

import enum
from typing import Any, Final

from transitions import Machine


class Phase(enum.StrEnum):
    """Where a session stands."""

    STARTING = "starting"
    BETWEEN = "between"
    TESTING = "testing"
    AT_REST = "at-rest"
    HELD = "held"
    FINISHED = "finished"


_LIVE: Final = (Phase.BETWEEN, Phase.TESTING, Phase.AT_REST)
_ANY: Final = (*_LIVE, Phase.HELD)

TABLE: Final[tuple[tuple[str, tuple[Phase, ...], Phase], ...]] = (
    ("begin", (Phase.STARTING,), Phase.BETWEEN),
    ("select", _LIVE, Phase.TESTING),
    ("rest", _LIVE, Phase.AT_REST),
    ("unselect", (Phase.TESTING, Phase.AT_REST), Phase.BETWEEN),
    ("hold", _LIVE, Phase.HELD),
    ("resume_between", (Phase.HELD,), Phase.BETWEEN),
    ("resume_testing", (Phase.HELD,), Phase.TESTING),
    ("resume_at_rest", (Phase.HELD,), Phase.AT_REST),
    ("finish", (Phase.STARTING, *_ANY), Phase.FINISHED),
)
"""trigger, from any of these phases, to this phase."""


class _Model:
    """Holds the current phase; transitions adds `trigger` to it."""

    phase: str
    trigger: Any


class PhaseKeeper:
    """One session's phase, moved only by the table above."""

    def __init__(self, phase: Phase = Phase.STARTING) -> None:
        self._model = _Model()
        Machine(
            model=self._model,
            states=[p.value for p in Phase],
            initial=phase.value,
            auto_transitions=False,
            model_attribute="phase",
            transitions=[
                {"trigger": trigger, "source": [p.value for p in sources], "dest": dest.value}
                for trigger, sources, dest in TABLE
            ],
        )

    @property
    def phase(self) -> Phase:
        """The current phase."""
        return Phase(self._model.phase)

    def set(self, phase: Phase) -> None:
        """Take over a phase that the same table has led to before."""
        self._model.phase = phase.value

    def move(self, trigger: str) -> None:
        """Fire a trigger. Raises transitions.MachineError when the table does not allow it."""
        self._model.trigger(trigger)
