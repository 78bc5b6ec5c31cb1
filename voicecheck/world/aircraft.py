"""A simulated aircraft: buses, selector, lamps, sounds and what can be wrong with them.

Built from a resolved checklist alone. Pure: every call says when, in seconds; times never run
backwards. What an aircraft does under power that a test is not meant for is invented here:
nothing shows (common practice, no source).
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, Lamp, Shows
from voicecheck.world.faults import Fault, FaultKind, needs
from voicecheck.world.panel import DIM, Panel, PanelLamp, warning_of

RISE: Final = 0.08
DECAY: Final = 0.12
"""Time constants in seconds of a filament's light (common practice, no source)."""
SETTLED: Final = 0.6
"""Seconds after which every lamp has reached what it will show."""
CLEAR: Final = 1.6
"""Seconds by which a faulty lamp misses its window, at least."""

SEEN: Final = 0.3
"""Seconds that a lamp must be lit for anybody to see that it goes out."""


class _Glow:
    """One lamp: which way it goes since when, and how bright it was then."""

    __slots__ = ("_from", "_since", "on")

    def __init__(self) -> None:
        self.on = False
        self._since = 0.0
        self._from = 0.0

    def set(self, on: bool, at: float) -> None:
        if on != self.on:
            self._from = self.brightness(at)
            self._since = at
            self.on = on

    def brightness(self, at: float) -> float:
        target = 1.0 if self.on else 0.0
        constant = RISE if self.on else DECAY
        gone = math.exp(-max(0.0, at - self._since) / constant)
        return target + (self._from - target) * gone


class Aircraft:
    """One airframe with its faults; starts cold, with every bus and the selector off."""

    def __init__(self, checklist: Checklist, faults: Iterable[Fault] = (), seed: int = 0) -> None:
        self.checklist = checklist
        self.faults = tuple(faults)
        self._seed = seed
        self._items = {item.id: item for item in checklist.items}
        self._needs = {item.id: needs(checklist, item) for item in checklist.items}
        self._switched = {bus.id: False for bus in checklist.buses}
        self._been_on: set[str] = set()
        self._selector = OFF
        self._visit = 0
        self._active: dict[FaultKind, set[str]] = {}
        self._done: set[str] = set()
        self._throw: str | None = None
        self._running: dict[str, float] = {}
        self._lamps: dict[str, Lamp] = {}
        for item in checklist.items:
            for lamp in item.lamps:
                self._lamps.setdefault(lamp.caption, lamp)
            if item.shows in (Shows.RESETS, Shows.STAYS):
                self._lamps.setdefault(warning_of(item), Lamp(warning_of(item)))
        self._glow = {caption: _Glow() for caption in self._lamps}
        self._now = 0.0
        self._begin_visit()

    # What a hand does.

    def switch(self, bus: str, on: bool, at: float) -> None:
        """Put a bus's switch on or off."""
        self._advance(at)
        self._switched[bus] = on
        if on:
            self._been_on.add(bus)
        self._show()

    def select(self, position: str, at: float, left: float | None = None) -> None:
        """Turn the selector; whatever was silenced, reset or thrown is as before.

        left: when it truly left where it was, if that is known only now.
        """
        self._advance(at)
        before, self._selector = self._selector, position
        if before == position:
            return
        for item in self.checklist.items:
            if item.shows is Shows.GOES_OUT and item.position == before:
                lamp = self._lamp_of(item)
                if all(self._glow[part.caption].on for part in lamp.lamps):
                    self._running[item.id] = (self._now if left is None else left) + self._takes(
                        item
                    )
            elif item.shows is Shows.GOES_OUT and item.position == position:
                self._running.pop(item.id, None)
        self._done.clear()
        self._throw = None
        self._begin_visit()
        self._show()

    def do(self, item_id: str, at: float) -> None:
        """Do what an item asks for: silence, set again, press to reset, throw a switch."""
        self._advance(at)
        item = self._items[item_id]
        if item.shows is Shows.THROWN:
            self._throw = item_id
        elif item.shows is Shows.BACK and not self._has(FaultKind.SWITCH_STUCK, item_id):
            self._throw = None
        self._done.add(item_id)
        self._show()

    # What becomes of it.

    def fail(self, fault: Fault, at: float) -> None:
        """Something goes wrong, from now on."""
        self._advance(at)
        self.faults = (*self.faults, fault)
        self._active.setdefault(fault.kind, set()).add(fault.target)
        self._show()

    def repair(self, fault: Fault, at: float) -> None:
        """Somebody mends it."""
        self._advance(at)
        self.faults = tuple(other for other in self.faults if other != fault)
        self._active.get(fault.kind, set()).discard(fault.target)
        self._show()

    # What it then is.

    def panel(self, at: float) -> Panel:
        """Everything that can be seen, heard and felt."""
        self._advance(at)
        here = self.checklist.position(self._selector).items
        live = [item for item in here if self._shows(item)]
        return Panel(
            at=self._now,
            selector=self._selector,
            buses={bus.id: self._live(bus.id) for bus in self.checklist.buses},
            lamps=tuple(self._seen(lamp) for lamp in self._lamps.values()),
            sounds=tuple(i.reports for i in live if i.shows is Shows.SOUNDS and self._sounding(i)),
            felt=tuple(i.reports for i in live if self._felt(i)),
            gauges=self._gauges(here),
            odd=self._odd(here),
        )

    @property
    def selector(self) -> str:
        """The position at which it is."""
        return self._selector

    def wrong_now(self) -> frozenset[Fault]:
        """The faults that show in this visit, each as if it lasted."""
        active = (f for f in self.faults if self._has(f.kind, f.target))
        return frozenset(replace(fault, share=1.0) for fault in active)

    def goes_dark_at(self, item_id: str, at: float) -> float | None:
        """When a running lamp goes out: inf if it never will, None if it does not run."""
        self._advance(at)
        return self._running.get(item_id)

    # How.

    def _advance(self, at: float) -> None:
        at = max(at, self._now)
        for item_id, due in sorted(self._running.items(), key=lambda running: running[1]):
            if due <= at:
                self._now = due
                del self._running[item_id]
                self._show()
        self._now = at

    def _begin_visit(self) -> None:
        self._visit += 1
        self._active = {}
        for number, fault in enumerate(self.faults):
            chance = random.Random(f"{self._seed} {number} {self._visit}").random()
            if chance < fault.share:
                self._active.setdefault(fault.kind, set()).add(fault.target)

    def _has(self, kind: FaultKind, target: str) -> bool:
        return target in self._active.get(kind, ())

    def _live(self, bus: str) -> bool:
        stays = self._has(FaultKind.BUS_STAYS_ON, bus) and bus in self._been_on
        return (self._switched[bus] or stays) and not self._has(FaultKind.BUS_DEAD, bus)

    def _shows(self, item: Item) -> bool:
        """Whether the test circuit of an item is fed as it should be."""
        if self._has(FaultKind.ANY_POWER, item.id):
            return any(self._live(bus.id) for bus in self.checklist.buses)
        return all(self._live(bus) == (s == "on") for bus, s in self._needs[item.id].items())

    def _show(self) -> None:
        """Let every lamp go the way in which it is driven now."""
        here = self.checklist.position(self._selector).items
        lit = {caption for item in here for caption in self._lights(item)}
        for item_id in self._running:
            lamp = self._lamp_of(self._items[item_id])
            if self._shows(lamp):
                lit |= {part.caption for part in lamp.lamps}
        lit -= self._active.get(FaultKind.LAMP_DARK, set())
        if any(self._live(bus.id) for bus in self.checklist.buses):
            extra = self._active.get(FaultKind.LAMP_EXTRA, set())
            lit |= self._active.get(FaultKind.LAMP_STUCK, set()) | set(
                filter(self._is_after, extra)
            )
        for caption, glow in self._glow.items():
            glow.set(caption in lit, self._now)

    def _is_after(self, caption: str) -> bool:
        """Whether the selector is one further than the lamp's own position."""
        order = [position.id for position in self.checklist.positions]
        at = [i for i in self.checklist.items if caption in {lamp.caption for lamp in i.lamps}]
        return bool(at) and self._selector == order[order.index(at[0].position) - len(order) + 1]

    def _seen(self, lamp: Lamp) -> PanelLamp:
        bright = self._glow[lamp.caption].brightness(self._now)
        if self._has(FaultKind.LAMP_DIM, lamp.caption):
            bright *= DIM
        return PanelLamp(lamp.caption, lamp.colour, bright)

    def _odd(self, here: Iterable[Item]) -> tuple[str, ...]:
        own = {lamp.caption for item in here for lamp in item.lamps}
        on = {caption for caption, glow in self._glow.items() if glow.on}
        odd = {"light": FaultKind.LAMP_EXTRA, "colour": FaultKind.LAMP_COLOUR}
        shown = {name: on & self._active.get(kind, set()) for name, kind in odd.items()}
        shown["light"] -= own
        return tuple(name for name, captions in shown.items() if captions)

    def _lights(self, item: Item) -> set[str]:
        """Captions of the lamps that the test of an item drives, where the selector is at it."""
        if not self._shows(item) or self._has(FaultKind.LAMP_DARK, item.id):
            return set()
        if item.shows is Shows.LIT or (item.shows is Shows.THROWN and self._throw == item.id):
            return {lamp.caption for lamp in item.lamps}
        if item.shows in (Shows.RESETS, Shows.STAYS) and not self._reset(item):
            return {warning_of(item)}
        return set()

    def _gauges(self, here: Iterable[Item]) -> dict[str, str]:
        """What the gauges read, and which switch does not go back."""
        read = {item.id: self._reads(item) for item in here if item.shows is Shows.READS}
        stuck = {item.id: item.readings[-1].phrases[0] for item in here if self._stuck(item)}
        return read | stuck

    def _stuck(self, item: Item) -> bool:
        """Whether somebody has tried to put a switch back, and it does not go."""
        tried = item.shows is Shows.BACK and item.id in self._done
        return tried and self._has(FaultKind.SWITCH_STUCK, item.id)

    def _reset(self, item: Item) -> bool:
        would = (item.shows is Shows.RESETS) != self._has(FaultKind.WRONG_CANCEL, item.id)
        return item.id in self._done and would

    def _felt(self, item: Item) -> bool:
        return item.shows is Shows.FELT and not self._has(FaultKind.SILENT, item.id)

    def _sounding(self, sound: Item) -> bool:
        if self._has(FaultKind.SILENT, sound.id):
            return False
        sounding = True
        for stage in self.checklist.position(sound.position).items:
            if stage.id not in self._done or stage.reports != sound.reports:
                continue
            if stage.shows is Shows.FALLS_SILENT:
                sounding = self._has(FaultKind.NOT_SILENCED, stage.id)
            elif stage.shows is Shows.SOUNDS_ON:
                sounding = not self._has(FaultKind.WRONGLY_SILENCED, stage.id)
            elif stage.shows is Shows.RETURNS:
                sounding = not self._has(FaultKind.NO_RETURN, stage.id)
        return sounding

    def _reads(self, gauge: Item) -> str:
        wrong = self._has(FaultKind.WRONG_READING, gauge.id) or not self._shows(gauge)
        grade = Grade.BAD if wrong else Grade.GOOD
        return next(r.phrases[0] for r in gauge.readings if r.grade is grade)

    def _lamp_of(self, timed: Item) -> Item:
        return self._items[timed.after[0]]

    def _takes(self, timed: Item) -> float:
        """Seconds from the selector leaving until the lamp is seen to be out."""
        assert timed.window is not None
        window, chance = timed.window, random.Random(f"{self._seed} {timed.id} {self._visit}")
        if self._has(FaultKind.NEVER_OUT, timed.id):
            return math.inf
        if self._has(FaultKind.OUT_EARLY, timed.id):
            return max(SEEN, (window.lower - CLEAR) * chance.random())
        if self._has(FaultKind.OUT_LATE, timed.id):
            return window.upper + CLEAR + 4 * chance.random()
        middle, half = (window.lower + window.upper) / 2, (window.upper - window.lower) / 2
        return middle + half * chance.triangular(-0.9, 0.9, 0.0)
