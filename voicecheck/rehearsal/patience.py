"""When a simulated crew has had enough: it completes, then abandons, then walks away."""

from __future__ import annotations

from typing import Final

from voicecheck.checklist.resolved import OFF
from voicecheck.rehearsal.intents import Command, Go
from voicecheck.rehearsal.memory import Memory

PATIENCE: Final = 600.0
"""Seconds after which the crew is content with whatever is still missing: a test on the battery
should not be longer."""
_STEPS: Final = (PATIENCE, PATIENCE + 120.0, PATIENCE + 240.0)
"""When it calls complete, abandons, and walks away."""


def lose_patience(memory: Memory, now: float) -> None:
    """Change what the crew has in mind when a step of its patience is reached."""
    now -= memory.absent
    if memory.leaving >= len(_STEPS) or now < _STEPS[memory.leaving]:
        return
    memory.leaving += 1
    memory.watching.clear()
    memory.agenda.clear()
    memory.short = True
    if memory.leaving == 1:
        if memory.position != OFF:
            memory.agenda.append(Go(OFF))
        memory.agenda.append(Command("complete"))
    elif memory.leaving == 2:
        memory.agenda.append(Command("abandon"))
    else:
        memory.over = True
