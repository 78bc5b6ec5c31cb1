"""Sub-checklists small enough to be walked to the last state, and which of them are alike.

A *chain* is a set of items of one position that are bound by `after`. A slice keeps one
position of a checklist, its neighbour (the next position, cyclic) and the rest position, in
that order, and of their items only one or two chains; a position without items is still a
place to go. What nobody has foreseen is left out: it waits for nothing, and its many words would
only multiply the states; the invented sessions have it. The kinds of slice:

alone       one chain of the position, one bus
pair        two chains, one bus: both of the position, or one of it with one of the neighbour or
            with that of rest
power       one chain, all buses
position    every chain of the position and of rest, all buses (to a stated depth only)

One bus: the engine asks of an item's power only whether anything is lacking, so a bus that
stands as needed all the time is as none; the last bus that the chains need is kept.

Two slices are alike when they differ in names and wordings alone. The engine compares ids only
for being equal or being the rest position (and the battery bus,
for its clock, see canonical.py), so alike slices have the same
graph and one of them is walked for all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

from voicecheck.checklist.resolved import OFF, Checklist, Item, Position

KINDS: Final = ("alone", "pair", "power", "position")

Chain = tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Slice:
    """A sub-checklist and where it was cut. name: for instance "gear: greens + unsafe"."""

    kind: str
    name: str
    checklist: Checklist


def chains(position: Position) -> list[Chain]:
    """The items of a position in groups bound by `after`, in checklist order."""
    group = {item.id: index for index, item in enumerate(position.items)}
    for item in position.items:
        for needed in item.after:
            old, new = group[item.id], group[needed]
            group = {key: new if value == old else value for key, value in group.items()}
    made: dict[int, list[Item]] = {}
    for item in position.items:
        made.setdefault(group[item.id], []).append(item)
    return [tuple(items) for items in made.values()]


def slices(checklist: Checklist, kinds: Sequence[str] = KINDS) -> Iterator[Slice]:
    """All slices of these kinds, position by position."""
    *tests, rest = checklist.positions
    for index, position in enumerate(tests):
        beside = tests[(index + 1) % len(tests)]
        for kind in kinds:
            for kept in _kept(kind, position, beside, rest):
                yield _cut(checklist, kind, (position, beside, rest), kept)
    for kind in ("alone", "power"):
        for chain in chains(rest) if kind in kinds else ():
            yield _cut(checklist, kind, (tests[-1], tests[0], rest), (chain,))


def _kept(
    kind: str, position: Position, beside: Position, rest: Position
) -> Iterator[tuple[Chain, ...]]:
    here = chains(position)
    if kind in ("alone", "power"):
        yield from ((chain,) for chain in here)
    elif kind == "pair":
        yield from combinations(here, 2)
        # Of the neighbour the first chain alone: it stands for "an item elsewhere".
        yield from ((chain, other) for chain in here for other in chains(beside)[:1])
        yield from ((chain, other) for chain in here for other in chains(rest))
    else:
        yield (*here, *chains(rest))


def _cut(
    checklist: Checklist, kind: str, places: Sequence[Position], kept: tuple[Chain, ...]
) -> Slice:
    ids = {item.id for chain in kept for item in chain}
    positions = tuple(
        replace(
            place,
            items=tuple(_among(item, ids) for item in place.items if item.id in ids),
            other=None,
        )
        for place in {place.id: place for place in places}.values()
    )
    sliced = replace(checklist, positions=positions)
    if kind in ("alone", "pair"):
        sliced = _one_bus(sliced)
    # A position that is not fitted is one more callout that changes nothing: once is enough.
    gone = () if kind == "pair" else tuple(n for n in checklist.not_fitted if n.say is not None)[:1]
    name = f"{places[0].id}: " + " + ".join(chain[0].id for chain in kept)
    return Slice(kind, name, replace(sliced, not_fitted=gone))


def _among(item: Item, ids: set[str]) -> Item:
    """The item where there are only these: it denies no lamp that is not there."""
    return replace(item, dark_of=tuple(denied for denied in item.dark_of if denied in ids))


def _one_bus(checklist: Checklist) -> Checklist:
    needed = {
        bus
        for position in checklist.positions
        for item in position.items
        for bus in {**position.power, **item.power}
    }
    buses = [bus for bus in checklist.buses if bus.id in needed] or checklist.buses
    kept = buses[-1]

    def only(power: Mapping[str, str]) -> dict[str, str]:
        return {bus: state for bus, state in power.items() if bus == kept.id}

    positions = tuple(
        replace(
            position,
            power=only(position.power),
            items=tuple(replace(item, power=only(item.power)) for item in position.items),
        )
        for position in checklist.positions
    )
    return replace(checklist, buses=(kept,), positions=positions)


def signature(checklist: Checklist) -> tuple[object, ...]:
    """What the engine can tell about a checklist, names left out.

    Of alike readings two are as many: each decision compares two. The two states of a bus are
    alike: one of them is the needed one.
    """
    place = {item.id: index for index, item in enumerate(checklist.items)}
    seen: dict[str, str] = {}
    return (
        checklist.timing if any(item.window for item in checklist.items) else None,
        checklist.battery_minutes is not None,
        tuple(
            (
                position.id == OFF,
                tuple(_shape(position, item, place, seen) for item in position.items),
            )
            for position in checklist.positions
        ),
        len(checklist.buses),
    )


def _shape(
    position: Position, item: Item, place: dict[str, int], seen: dict[str, str]
) -> tuple[object, ...]:
    power = sorted({**position.power, **item.power}.items())
    grades = Counter(reading.grade for reading in item.readings)
    return (
        tuple(sorted((grade, min(count, 2)) for grade, count in grades.items())),
        min(len(item.darks), 2),
        tuple(place[needed] for needed in item.after),
        tuple((list(seen).index(b), seen[b] == s) for b, s in power if seen.setdefault(b, s)),
        item.window,
        item.read_back,
        item.put_back,
        tuple(place[denied] for denied in item.dark_of if denied in place),
    )
