"""What is left of a session that a simulated crew has played."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voicecheck.engine import events
from voicecheck.oracle.heard import Delivered
from voicecheck.rehearsal.evidence import of_journal


@dataclass(slots=True)
class Played:
    """One session.

    summary: the result, empty until it ends. seconds: how long it took, in its own time.
    cut_off: the loop ended it, not the crew. events, delivered: everything the engine was given,
    of a session without sound, and what came of it. lines: what a journal would hold. sound: all
    the crew said, with noise; of two microphones of shape (n, 2).
    """

    summary: dict[str, Any] = field(default_factory=dict)
    seconds: float = 0.0
    cut_off: bool = False
    events: list[events.Event] = field(default_factory=list)
    delivered: list[Delivered] = field(default_factory=list)
    lines: list[dict[str, Any]] = field(default_factory=list)
    sound: NDArray[np.int16] = field(default_factory=lambda: np.zeros(0, np.int16))

    @property
    def session(self) -> list[Delivered]:
        """What the engine was given, and the prompts that each event brought."""
        return self.delivered or of_journal(self.lines)
