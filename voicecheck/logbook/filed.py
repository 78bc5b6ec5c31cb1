"""What the database tells, as plain facts."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Earlier:
    """A stamp that was filed earlier, of a session or of an action on a finding of it."""

    utc: str
    session: str


@dataclass(frozen=True, slots=True)
class Listed:
    """One session as a list shows it. behind: what was filed before it and is dated after it."""

    session: str
    started: str
    airframe: str
    result: str
    state: str
    zone: str
    behind: Earlier | None = None


@dataclass(frozen=True, slots=True)
class Timed:
    """One timing as filed: seconds; utc of the closing call; zone of the operator's calendar."""

    item: str
    utc: str
    lower: float | None
    upper: float | None
    low: float | None
    high: float | None
    verdict: str
    asked: bool
    zone: str = "UTC"


@dataclass(frozen=True, slots=True)
class Tally:
    """How often an item had each outcome, and what it had last."""

    item: str
    outcomes: dict[str, int]
    last: str
