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
from typing import Final


class Phase(enum.StrEnum):
    """Where a session stands."""

    STARTING = "starting"
    BETWEEN = "between"
    TESTING = "testing"
    AT_REST = "at-rest"
    HELD = "held"
    FINISHED = "finished"


LIVE: Final = (Phase.BETWEEN, Phase.TESTING, Phase.AT_REST)
"""Phases in which the checklist goes on."""

TABLE: Final[tuple[tuple[str, tuple[Phase, ...], Phase], ...]] = (
    ("begin", (Phase.STARTING,), Phase.BETWEEN),
    ("select", LIVE, Phase.TESTING),
    ("rest", LIVE, Phase.AT_REST),
    ("unselect", (Phase.TESTING, Phase.AT_REST), Phase.BETWEEN),
    ("hold", LIVE, Phase.HELD),
    ("resume_between", (Phase.HELD,), Phase.BETWEEN),
    ("resume_testing", (Phase.HELD,), Phase.TESTING),
    ("resume_at_rest", (Phase.HELD,), Phase.AT_REST),
    ("finish", (Phase.STARTING, *LIVE, Phase.HELD), Phase.FINISHED),
)
"""trigger, from any of these phases, to this phase."""

_LEADS: Final = {(trigger, source): to for trigger, sources, to in TABLE for source in sources}


def moved(phase: Phase, trigger: str) -> Phase:
    """Where a trigger leads. Raises ValueError when the table does not allow it."""
    try:
        return _LEADS[trigger, phase]
    except KeyError:
        raise ValueError(f"'{trigger}' is not possible while {phase.value}") from None
