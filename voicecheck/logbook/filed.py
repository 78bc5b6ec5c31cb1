"""What the database tells, as plain facts."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Listed:
    """One session as a list shows it."""

    session: str
    started: str
    airframe: str
    result: str
    state: str
    zone: str


@dataclass(frozen=True, slots=True)
class Timed:
    """One timing as filed: seconds; utc of the closing call."""

    item: str
    utc: str
    lower: float | None
    upper: float | None
    low: float | None
    high: float | None
    verdict: str
    asked: bool


@dataclass(frozen=True, slots=True)
class Tally:
    """How often an item had each outcome, and what it had last."""

    item: str
    outcomes: dict[str, int]
    last: str
