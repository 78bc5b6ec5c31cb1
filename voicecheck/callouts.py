"""The one vocabulary that every room shares: a callout that can be said now.

A callout knows its words and what a mistake about it would cost. It knows
nothing of aircraft (that is the checklist's business) and nothing of sound.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Stakes(enum.StrEnum):
    """What it costs to act on this callout when it was not said, dearest first."""

    CLOSES_GOOD = "closes-good"
    """Would record something as good: the one unforgivable error."""
    ADVANCES = "advances"
    """Would move the session: another position, power, completion, a yes."""
    RECORDS_BAD = "records-bad"
    """Would record a finding that the crew must then take back."""
    ASKS = "asks"
    """Would only repeat, hold or ask."""


@dataclass(frozen=True, slots=True)
class Callout:
    """Something a crew member may say in the present state.

    key: stable identity, unique among the callouts offered together,
        for instance ``gear.greens:3`` or ``command:say-again``.
    phrases: every wording that means this callout, lower-case words separated
        by single spaces; the first is the one to teach and to read back.
    stakes: what acting on it wrongly would cost.
    joins: may stand beside others in one breath ("three green one red and horn").
    asked: nothing follows from it before a yes, so that a listener need not ask as well.
    """

    key: str
    phrases: tuple[str, ...]
    stakes: Stakes
    joins: bool = False
    asked: bool = False
