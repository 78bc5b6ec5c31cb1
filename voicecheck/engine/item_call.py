"""A call about an item, and where it was made."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from voicecheck.checklist.resolved import Grade, Item, Reading
from voicecheck.engine.state import Claim


class Scene(enum.StrEnum):
    """Where and of what something is called."""

    OBSERVED = "an item, at its position"
    NAMED = "one dark lamp of a group, at its position"
    TIMED_HERE = "a lamp that must go out, before the selector has left"
    RUNNING = "a lamp that must go out, after the selector has left"


@dataclass(frozen=True, slots=True)
class ItemCall:
    """One reading of an item, called. affirmed: the crew has said yes to this very claim."""

    scene: Scene
    item: Item
    reading: Reading
    said: Claim
    affirmed: bool = False

    @property
    def bad(self) -> bool:
        """Whether it is bad news. A lamp that must go out may well be lit before it is left."""
        good = self.reading.grade is Grade.GOOD
        return good if self.scene is Scene.TIMED_HERE else not good
