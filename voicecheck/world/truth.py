"""What a right look at an aircraft with these faults would call bad, whoever looks and whenever."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from voicecheck.checklist.resolved import Checklist, Grade, Item, Shows
from voicecheck.world.aircraft import SETTLED, Aircraft
from voicecheck.world.faults import Fault, FaultKind, needs
from voicecheck.world.panel import right_reading

_POWER: Final = (FaultKind.BUS_DEAD, FaultKind.BUS_STAYS_ON, FaultKind.ANY_POWER)
"""With these an item is not bad: it cannot be tested, or its power is not as it was called."""


@lru_cache(maxsize=4096)
def truly_bad(checklist: Checklist, faults: frozenset[Fault]) -> frozenset[str]:
    """Ids of the items, tested at their position, under their power, after their stages.

    Lamps that must go out are left out: their time tells.
    """
    shown = frozenset(fault for fault in faults if fault.kind not in _POWER)
    items = [item for item in checklist.items if shown and item.shows is not Shows.GOES_OUT]
    return frozenset(item.id for item in items if _is_bad(checklist, item, shown))


def _is_bad(checklist: Checklist, item: Item, faults: frozenset[Fault]) -> bool:
    captions = {lamp.caption for lamp in item.lamps if lamp.lit}
    if any(f.kind is FaultKind.LAMP_COLOUR and f.target in captions for f in faults):
        return True
    aircraft = Aircraft(checklist, faults)
    for bus, state in needs(checklist, item).items():
        aircraft.switch(bus, state == "on", 0.0)
    aircraft.select(item.position, 0.0)
    for stage in (*_stages(checklist, item), item.id):
        aircraft.do(stage, 0.0)
    return right_reading(item, aircraft.panel(2 * SETTLED)).grade is not Grade.GOOD


def _stages(checklist: Checklist, item: Item) -> tuple[str, ...]:
    before = [checklist.item(stage) for stage in item.after]
    return tuple(s for stage in before for s in (*_stages(checklist, stage), stage.id))
