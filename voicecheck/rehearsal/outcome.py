"""One session of a proof, counted."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from voicecheck.rehearsal.judge import Judgement


@dataclass(frozen=True, slots=True)
class Outcome:
    """One session, counted. crash: the last lines of a traceback, if it came to that.

    faults: as a user writes them. noise_db: None for a quiet room, or without sound. cut: the
    loop ended it, and not the crew. work: seconds of processor time.
    """

    registration: str
    number: int
    faults: tuple[str, ...]
    judgement: Judgement
    asked_again: int
    length: float
    ideal: float
    complete: bool
    crash: str | None = None
    evidence: dict[str, Any] = field(default_factory=dict)
    noise_db: float | None = None
    cut: bool = False
    work: float = field(default=0.0, compare=False)
    behaviours: dict[str, tuple[int, ...]] = field(default_factory=dict)
    """What of CAME_OF (rehearsal.behaviours) came how often of each."""

    @property
    def is_wrong(self) -> bool:
        """Whether it must be shown and kept."""
        judged = self.judgement
        bad = judged.dangerous or judged.careless or judged.false_findings or judged.otherwise
        return bool(bad or self.crash or self.cut)
