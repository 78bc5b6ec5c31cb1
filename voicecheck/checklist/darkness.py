"""Items whose good reading is that nothing shows: what they need, and what they deny.

A panel without power is as dark as a panel at rest, and a dead horn as silent as one that was
silenced. Such an item proves something only under the power that would light it or make it sound,
and only while nothing else is known to be lit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from voicecheck.checklist.places import place_in_files
from voicecheck.checklist.resolved import Item, Position, Shows
from voicecheck.errors import InputError
from voicecheck.yaml_source import Sourced

_ABSENCE: Final = frozenset(
    {Shows.NOTHING, Shows.DARK, Shows.GOES_OUT, Shows.FALLS_SILENT, Shows.RESETS}
)


def require_power(positions: Iterable[Position], type_file: Sourced, airframe: Sourced) -> None:
    """Each such item names a bus that is on. Raises InputError with its line."""
    for position in positions:
        for item in position.items:
            if item.shows in _ABSENCE and "on" not in item.power.values():
                raise InputError(
                    place_in_files(position.id, item.id, type_file, airframe),
                    f"{item.id} is good when nothing shows or sounds, and needs no bus on: with "
                    "no power that is so as well, and proves nothing",
                    "write the bus that feeds it, for instance 'power: {battery: on}'",
                )


def with_denied(positions: Iterable[Position]) -> tuple[Position, ...]:
    """The positions, and in each item that is about darkness what cannot be lit where it is good.

    A whole panel denies every lamp that is timed, and whatever else somebody may have seen; a
    caption that must stay dark denies the timed lamp that is itself.
    """
    places = tuple(positions)
    items = {item.id: item for place in places for item in place.items}
    lamps = {item.id: _lamps(items[item.after[0]]) for item in items.values() if item.window}
    others = tuple(place.other.id for place in places if place.other is not None)

    def denied(item: Item) -> tuple[str, ...]:
        if item.shows is Shows.NOTHING:
            return (*lamps, *others)
        if item.shows is Shows.DARK:
            return tuple(timed for timed, lit in lamps.items() if lit & _lamps(item))
        return ()

    return tuple(
        replace(place, items=tuple(replace(i, dark_of=denied(i)) for i in place.items))
        for place in places
    )


def _lamps(item: Item) -> set[str]:
    return {lamp.caption for lamp in item.lamps}
