"""What happens in a cockpit that nobody calls, and what takes a crew away from its test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from voicecheck.checklist.resolved import OFF
from voicecheck.rehearsal.intents import Command, Go, Intent, Pause, Power
from voicecheck.rehearsal.memory import Memory
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import Fault, FaultKind

HOLD: Final = 1200.0
MENDED: Final = 300.0
"""Seconds of a long hold, and of one in which something is mended."""


def mishap(memory: Memory, aircraft: Aircraft) -> Intent | None:
    """What comes between the crew and its plan, if anything."""
    for name, happens in _MISHAPS.items():
        if memory.does(name):
            return happens(memory, aircraft)
    return None


def revised(memory: Memory) -> None:
    """The crew has another edition from now on: a position wants a bus otherwise."""
    checklist, chance = memory.checklist, memory.chance
    at = chance.choice([p for p in checklist.positions if p.power])
    bus = chance.choice(sorted(at.power))
    power = {**at.power, bus: "off" if at.power[bus] == "on" else "on"}
    other = replace(at, power=power, items=tuple(replace(i, power=power) for i in at.items))
    positions = tuple(other if p is at else p for p in checklist.positions)
    memory.checklist = replace(checklist, positions=positions)


def _bus_lost(memory: Memory, aircraft: Aircraft) -> Intent | None:
    bus = memory.chance.choice(memory.checklist.buses).id
    aircraft.fail(Fault(FaultKind.BUS_DEAD, bus), memory.now)
    sees = (Power(bus, "on"), Command("power-wrong"), None)
    return memory.chance.choice(sees)


def _silent_switch(memory: Memory, aircraft: Aircraft) -> Intent | None:
    bus = memory.chance.choice(memory.checklist.buses).id
    aircraft.switch(bus, not aircraft.panel(memory.now).buses[bus], memory.now)
    return None


def _lamp_fails(memory: Memory, aircraft: Aircraft) -> Intent | None:
    captions = sorted({lamp.caption for item in memory.checklist.items for lamp in item.lamps})
    fault = Fault(FaultKind.LAMP_DARK, memory.chance.choice(captions))
    aircraft.fail(fault, memory.now)
    return None


def _long_hold(memory: Memory, aircraft: Aircraft) -> Intent:
    if memory.chance.random() < 0.3:
        aircraft.select(memory.chance.choice(memory.checklist.positions).id, memory.now)
    if memory.chance.random() < 0.3:
        _silent_switch(memory, aircraft)
    memory.agenda.extend([Pause(HOLD), Command("resume")])
    return Command("stand-by")


def _maintenance(memory: Memory, aircraft: Aircraft) -> Intent | None:
    bad = [i for i in memory.checklist.items if i.id in memory.called]
    bad = [i for i in bad if not memory.good(i.id, memory.called)]
    if not bad:
        return None
    for fault in aircraft.faults:
        if memory.chance.random() < 0.7:
            aircraft.repair(fault, memory.now)
    for item in bad:
        memory.reopen(item)
        memory.tries.pop(item.id, None)
    memory.agenda.extend([Pause(MENDED), Command("resume")])
    return Command("stand-by")


def _repeat_position(memory: Memory, _aircraft: Aircraft) -> Intent | None:
    done = sorted({memory.item(item).position for item in memory.called} - {OFF})
    if not done:
        return None
    position = memory.chance.choice(done)
    for item in memory.checklist.position(position).items:
        memory.reopen(item)
        memory.tries.pop(item.id, None)
    return Go(position)


def _crew_change(memory: Memory, _aircraft: Aircraft) -> Intent:
    """The others know nothing, or what they were told; where the selector is they do not say."""
    memory.power.clear()
    memory.here.clear()
    if memory.chance.random() < 0.5:
        memory.called.clear()
        memory.tries.clear()
    return Command("crew-change")


_MISHAPS: Final[dict[str, Callable[[Memory, Aircraft], Intent | None]]] = {
    "bus_lost": _bus_lost,
    "silent_switch": _silent_switch,
    "lamp_fails": _lamp_fails,
    "long_hold": _long_hold,
    "maintenance": _maintenance,
    "repeat_position": _repeat_position,
    "crew_change": _crew_change,
}
