"""What a simulated cockpit shows at one moment, and what a right look at it would call.

The panel is plain data: a page or a terminal may draw it. Nobody who judges a session looks
at anything else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from voicecheck.checklist.resolved import OFF, Grade, Item, Reading, Shows

LIT: Final = 0.5
"""Brightness, of 1, from which a lamp counts as lit."""
DIM: Final = 0.4
"""Brightness of a lamp that is on its last legs (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PanelLamp:
    """A lamp as the eye sees it. brightness: 0 dark to 1 full; colour: None if not named."""

    caption: str
    colour: str | None
    brightness: float

    @property
    def lit(self) -> bool:
        """Whether anybody would call it lit."""
        return self.brightness >= LIT


@dataclass(frozen=True, slots=True)
class Panel:
    """Everything that can be seen, heard and felt at one moment.

    at: seconds. selector: id of a position. buses: id to whether it is live, as its voltmeter
    shows. sounds, felt: spoken names. gauges: item id to the words of what it reads, and of a
    switch that it does not go back. odd: what else is wrong to see, as the checklist's own
    readings of the unforeseen end ("light", "colour").
    """

    at: float
    selector: str
    buses: Mapping[str, bool]
    lamps: tuple[PanelLamp, ...]
    sounds: tuple[str, ...] = ()
    felt: tuple[str, ...] = ()
    gauges: Mapping[str, str] = field(default_factory=dict)
    odd: tuple[str, ...] = ()

    def lamp(self, caption: str) -> PanelLamp:
        """The lamp with this caption; KeyError if there is none."""
        for lamp in self.lamps:
            if lamp.caption == caption:
                return lamp
        raise KeyError(caption)

    def as_json(self) -> dict[str, Any]:
        """JSON-ready, for whoever draws it; gauges only where the selector asks for them."""
        lamps = [{"caption": x.caption, "colour": x.colour, "lit": x.lit} for x in self.lamps]
        return {
            "buses": dict(self.buses),
            "lamps": lamps,
            "sounds": list(self.sounds),
            "felt": list(self.felt),
            "gauges": [] if self.selector == OFF else list(self.gauges.values()),
        }

    def dim(self, item: Item) -> bool:
        """Whether one of its lamps glows, and not as it should."""
        return any(DIM / 2 < self.lamp(lamp.caption).brightness < LIT for lamp in item.lamps)

    def lit(self, item: Item) -> int:
        """How many of an item's lamps are lit."""
        return sum(self.lamp(lamp.caption).lit for lamp in item.lamps)


def warning_of(item: Item) -> str:
    """Caption of the warning that a resetting or staying item presses."""
    return item.reports.upper()


def right_reading(item: Item, panel: Panel, timed: Item | None = None) -> Reading:
    """What is true of an item on this panel, after whatever it asks for was done.

    timed: for a lamp that goes out, the item whose lamp it is.
    """
    bad = [r for r in item.readings if r.grade is not Grade.GOOD]
    if item.shows is Shows.LIT and (len(bad) > 1 or item.darks):
        return item.readings[len(item.lamps) - panel.lit(item)]  # from all lit down to none
    if item.shows is Shows.READS and item.position != OFF:
        said = panel.gauges.get(item.id, item.readings[-1].phrases[0])  # elsewhere it reads nothing
        return next(r for r in item.readings if said in r.phrases)
    good = _is_good(item, panel, timed)
    return next(r for r in item.readings if (r.grade is Grade.GOOD) == good)


def _is_good(item: Item, panel: Panel, timed: Item | None) -> bool:
    """Whether the panel shows what the item asks for."""
    match item.shows:
        case Shows.LIT | Shows.THROWN:
            return panel.lit(item) == len(item.lamps)
        case Shows.DARK:
            return panel.lit(item) == 0
        case Shows.GOES_OUT:
            return timed is not None and panel.lit(timed) == 0
        case Shows.SOUNDS | Shows.RETURNS | Shows.SOUNDS_ON:
            return item.reports in panel.sounds
        case Shows.FALLS_SILENT:
            return item.reports not in panel.sounds
        case Shows.FELT:
            return item.reports in panel.felt
        case Shows.RESETS | Shows.STAYS:
            return panel.lamp(warning_of(item)).lit == (item.shows is Shows.STAYS)
        case Shows.READS | Shows.NOTHING:  # at off a reading is about the whole panel
            return not any(lamp.lit for lamp in panel.lamps)
        case _:  # a switch that somebody has put back; only one that is stuck shows there
            return item.id not in panel.gauges


def dark_readings(item: Item, panel: Panel) -> list[Reading]:
    """The readings that name one dark lamp each, of those that are dark."""
    dark = {lamp.caption for lamp in item.lamps if not panel.lamp(lamp.caption).lit}
    return [reading for reading in item.darks if set(reading.lamps) <= dark]
