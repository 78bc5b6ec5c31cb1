"""What can be said about a checklist that loads but will not serve."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Severity(enum.StrEnum):
    """How much it matters."""

    ERROR = "error"
    """A session of this checklist cannot be completed or would mistake one thing for another."""
    WARNING = "warning"
    """It works, but not as whoever wrote it is likely to want."""
    NOTE = "note"
    """It works; the crew will be asked something."""


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice. position, item: ids, as far as it is about one of them."""

    severity: Severity
    text: str
    proposal: str
    position: str | None = None
    item: str | None = None

    def __str__(self) -> str:
        about = self.item or self.position
        return f"{self.severity}: {f'{about}: ' if about else ''}{self.text}; {self.proposal}"
