"""The checklist of one session: a type file and an airframe file made into plain items.

An item is the smallest thing that gets an outcome of its own: "three green", "horn
silenced", "anti-skid out in three to five seconds". The engine knows nothing finer.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Final

from pydantic import TypeAdapter

OFF: Final = "off"
"""Id of the selector's rest position."""


def position_key(position: str) -> str:
    """The key of the callout that names a position, by the position's id."""
    return "selector:off" if position == OFF else f"select:{position}"


def position_of(key: str) -> str | None:
    """The id of the position, fitted or not, that a callout names; None for any other key."""
    if key == "selector:off":
        return OFF
    return key.removeprefix("select:") if key.startswith("select:") else None


class Grade(enum.StrEnum):
    """What a reading says about its item."""

    GOOD = "good"
    BAD = "bad"
    SHORT = "short"
    """Bad, and the crew is asked which lamp is dark."""


class Shows(enum.StrEnum):
    """What an item is about: what is right to see, hear or feel. The engine does not ask."""

    LIT = "lit"
    """All its lamps are lit."""
    DARK = "dark"
    """Its lamp stays dark in this position."""
    GOES_OUT = "goes out"
    """The lamp of an earlier item goes out after the selector has left."""
    THROWN = "thrown"
    """Its lamp is lit with a switch in one of its throws."""
    BACK = "back"
    """That switch is back where it was."""
    SOUNDS = "sounds"
    FALLS_SILENT = "falls silent"
    """The sound stops when it is silenced."""
    SOUNDS_ON = "sounds on"
    """The sound goes on although somebody tries to silence it."""
    RETURNS = "returns"
    """The sound comes back when it is set again."""
    FELT = "felt"
    READS = "reads"
    """A gauge shows what it should."""
    NOTHING = "nothing"
    """Nothing at all is lit; journals from before it say of a panel at rest that it reads."""
    RESETS = "resets"
    """A warning goes out when it is pressed."""
    STAYS = "stays"
    """A warning stays although it is pressed."""


@dataclass(frozen=True, slots=True)
class Lamp:
    """A lamp as an eye should look for it. colour: None where the file names none.

    lit: whether it must be lit; a lamp that must stay dark has False.
    """

    caption: str
    colour: str | None = None
    lit: bool = True


@dataclass(frozen=True, slots=True)
class Means:
    """What a callout means, so that other wordings of it can be understood.

    predicates: of it, by their names in the language's sayings (language.sayings.MEANS). names:
    patterns of what it is about, after the rule that the sayings know them by ("it": "fire bell").
    """

    predicates: tuple[str, ...]
    names: tuple[tuple[str, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that can be called about an item.

    key: unique in the checklist. phrases: the wordings that are taught, the first is read back.
    means: for what else it may be said as; journals from before it was written down have none.
    finding: what the finding says; None when the reading is good.
    lamps: captions of the lamps that this reading names as dark.
    """

    key: str
    phrases: tuple[str, ...]
    grade: Grade
    finding: str | None = None
    lamps: tuple[str, ...] = ()
    means: Means | None = None


@dataclass(frozen=True, slots=True)
class Window:
    """Seconds from the selector leaving the position to the lamp going out."""

    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class Mel:
    """MEL reference data of the airframe."""

    item: str
    category: str
    title: str
    remark: str | None = None
    days: int | None = None
    """Calendar days of a category A item, where its remark gives them."""


@dataclass(frozen=True, slots=True)
class Item:
    """The smallest thing with an outcome.

    after: ids of items in the same position that must have been called first (a horn must
    sound before it can be silenced). power: all that it needs, bus to "on" or "off". darks:
    readings that name one dark lamp; after a short count the crew is asked for one. reports: how
    a report names the item. read_back: with two crew, a good call counts only when the other crew
    member makes it too. shows, lamps: what it is about, and what a screen draws, in the order of
    the file; journals from before it was written down have none.
    put_back: a switch that goes back after its throws, and after a bad one most of all, so what
    stands in `after` need only have been called. dark_of: items of what cannot be lit, or run,
    where this one is good. unforeseen: whatever nobody has foreseen; it is never good, and
    nothing is missing where it is not called.
    """

    id: str
    position: str
    expected: str
    readings: tuple[Reading, ...]
    darks: tuple[Reading, ...] = ()
    after: tuple[str, ...] = ()
    power: Mapping[str, str] = field(default_factory=dict)
    window: Window | None = None
    consequence: str | None = None
    caution: str | None = None
    chapter: str | None = None
    mel: Mel | None = None
    reports: str = ""
    read_back: bool = False
    shows: Shows | None = None
    lamps: tuple[Lamp, ...] = ()
    sound: str | None = None
    """What it sounds like, for a simulated aircraft: "bell", "clacker" or "horn"."""
    put_back: bool = False
    dark_of: tuple[str, ...] = ()
    unforeseen: bool = False


@dataclass(frozen=True, slots=True)
class NotFitted:
    """Something the type has and this airframe does not.

    say: spoken name of the position when the whole position is gone, else None.
    """

    id: str
    position: str
    position_name: str
    expected: str
    reason: str
    say: str | None = None


@dataclass(frozen=True, slots=True)
class Position:
    """One selector position. power: bus id to "on" or "off"; absent means do not care."""

    id: str
    name: str
    say: str
    power: Mapping[str, str]
    items: tuple[Item, ...]
    select: tuple[str, ...]
    caution: str | None = None
    also: tuple[str, ...] = ()
    """Other names that crews have for it."""
    changed: str | None = None
    """Why this position differs from the type, if it does."""
    disregard: tuple[str, ...] = ()
    """How everything that was called here is taken back; journals from before it have none."""
    other: Item | None = None
    """What else may be seen or heard here; journals from before it have none."""

    @property
    def called(self) -> tuple[Item, ...]:
        """All that can be called here: the items, and what nobody has foreseen."""
        return self.items if self.other is None else (*self.items, self.other)


@dataclass(frozen=True, slots=True)
class Bus:
    """A bus; on and off are the wordings of its two callouts.

    minutes: a caution is due when it has been on for so long; one bus at most has them.
    """

    id: str
    say: str
    label: str
    on: tuple[str, ...]
    off: tuple[str, ...]
    minutes: float | None = None
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Timing:
    """Settings of spoken times, in seconds (see checklist.model.Timing)."""

    word_error: float
    reaction: float
    reaction_spread: float
    silence: float
    hand_before: float = 0.0
    hand_after: float = 0.0


@dataclass(frozen=True, eq=False)
class Checklist:
    """Everything the engine needs to know, and nothing it must look up.

    It is one thing with an identity: two are compared by their JSON forms.
    """

    id: str
    title: str
    type: str
    registration: str
    operator: str
    language: str
    buses: tuple[Bus, ...]
    positions: tuple[Position, ...]
    not_fitted: tuple[NotFitted, ...]
    timing: Timing
    commands: Mapping[str, tuple[str, ...]]
    reasons: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    calendar: str = "UTC"
    """Time zone in which the operator counts calendar days."""
    record: Mapping[str, str] = field(default_factory=dict)
    """The texts of grammars/<language>/record.yaml, with which the record is written."""
    report: Mapping[str, str] = field(default_factory=dict)
    """Those of report.yaml, with which it is read; the engine does not ask."""

    @property
    def timed_bus(self) -> Bus | None:
        """The bus that is timed while it is on, if there is one."""
        return next((bus for bus in self.buses if bus.minutes is not None), None)

    @property
    def battery_minutes(self) -> float | None:
        """Minutes of the timed bus."""
        return None if self.timed_bus is None else self.timed_bus.minutes

    def position(self, position_id: str) -> Position:
        """The position with this id; KeyError if there is none."""
        return self._positions[position_id]

    def named(self, position: Position, what: str) -> str:
        """Something at a position by name, with that of the position, told once."""
        if what.startswith(f"{position.say} "):
            return what
        return self.record["named-at"].format(position=position.say, what=what)

    def is_shared(self, key: str) -> bool:
        """Whether a reading is called in words that are called at another position, too."""
        return key in self._shared

    def placed(self, key: str, words: str) -> str:
        """Words that were called, with the name of the position where others share them."""
        if not self.is_shared(key):
            return words
        item, _ = self._readings[key]
        return self.named(self.position(item.position), words)

    def bus(self, bus_id: str) -> Bus:
        """The bus with this id; StopIteration if there is none."""
        return next(bus for bus in self.buses if bus.id == bus_id)

    def item(self, item_id: str) -> Item:
        """The item with this id; KeyError if there is none."""
        return self._items[item_id]

    def read(self, key: str) -> tuple[Item, Reading] | None:
        """The item and the reading that a callout's key stands for, if it is one of an item."""
        return self._readings.get(key)

    @cached_property
    def _positions(self) -> dict[str, Position]:
        return {position.id: position for position in self.positions}

    @cached_property
    def _items(self) -> dict[str, Item]:
        return {item.id: item for item in (*self.items, *self.others)}

    @cached_property
    def _readings(self) -> dict[str, tuple[Item, Reading]]:
        every = (*self.items, *self.others)
        return {r.key: (item, r) for item in every for r in (*item.readings, *item.darks)}

    @cached_property
    def _shared(self) -> frozenset[str]:
        """Keys of readings of which a wording is called at several positions."""
        readings = [(i, r) for i in self.items for r in (*i.readings, *i.darks)]
        places: dict[str, set[str]] = {}
        for item, reading in readings:
            for phrase in reading.phrases:
                places.setdefault(phrase, set()).add(item.position)
        shared = {phrase for phrase, where in places.items() if len(where) > 1}
        return frozenset(r.key for _, r in readings if not shared.isdisjoint(r.phrases))

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """All items to be called, in checklist order, those of the rest position last."""
        return tuple(item for position in self.positions for item in position.items)

    @cached_property
    def others(self) -> tuple[Item, ...]:
        """What else may be called of each position, in the same order."""
        return tuple(place.other for place in self.positions if place.other is not None)


_ADAPTER: Final = TypeAdapter(Checklist)


def checklist_to_json(checklist: Checklist) -> dict[str, Any]:
    """JSON-ready form, as embedded in a journal's header.

    The reasons are pairs: they are read out in their order, and a journal's lines have sorted keys.
    """
    data: dict[str, Any] = _ADAPTER.dump_python(checklist, mode="json")
    return {**data, "reasons": list(map(list, data["reasons"].items()))}


def checklist_from_json(data: Any) -> Checklist:
    """The inverse; raises pydantic.ValidationError on foreign data.

    Journals from before a checklist had words of its own are read by `checklist.recorded`.
    """
    if isinstance(data, Mapping) and isinstance(data.get("reasons"), list):
        pairs = [pair for pair in data["reasons"] if isinstance(pair, list) and len(pair) == 2]
        data = {**data, "reasons": {str(reason): words for reason, words in pairs}}
    checklist = _ADAPTER.validate_python(data)
    return replace(checklist, positions=tuple(map(with_power, checklist.positions)))


def with_power(position: Position) -> Position:
    """The position with its power in each of its items, where the item says nothing of the bus.

    Journals from before items held all that they need come so, too: doing it twice is no harm.
    """
    items = (replace(i, power={**position.power, **i.power}) for i in position.items)
    return replace(position, items=tuple(items))
