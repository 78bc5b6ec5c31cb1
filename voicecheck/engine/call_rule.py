"""One row of the rules about a call of an item."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.row import Row
from voicecheck.engine.turn import Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class CallRule(Row):
    """of: the scenes that it is about. holds: whether it decides this call. then: what follows."""

    of: frozenset[Scene]
    holds: Callable[[Turn, ItemCall], bool]
    then: Callable[[Turn, ItemCall], None]
