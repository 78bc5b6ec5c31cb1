"""What a callout would do: plain values with an identity, so that no key is ever taken apart."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from voicecheck.checklist.resolved import OFF, Item, Position, Reading


class CommandName(enum.StrEnum):
    """The spoken commands, by their names in the grammar."""

    SAY_AGAIN = "say-again"
    STAND_BY = "stand-by"
    RESUME = "resume"
    READ_BACK = "read-back"
    CORRECTION = "correction"
    DISREGARD = "disregard"
    AFFIRM = "affirm"
    NEGATIVE = "negative"
    COMPLETE = "complete"
    ABANDON = "abandon"
    CREW_CHANGE = "crew-change"
    POWER_WRONG = "power-wrong"


@dataclass(frozen=True, slots=True)
class Observe:
    """Record a reading of an item in the current position."""

    item: Item
    reading: Reading


@dataclass(frozen=True, slots=True)
class NameDark:
    """Name one dark lamp of a group."""

    item: Item
    reading: Reading


@dataclass(frozen=True, slots=True)
class CloseWindow:
    """Say what became of a lamp that must go out (or did before the selector moved)."""

    item: Item
    reading: Reading


@dataclass(frozen=True, slots=True)
class Select:
    """The selector goes to a position."""

    position: Position


@dataclass(frozen=True, slots=True)
class Stay:
    """The selector is still where it was before a gap."""

    position: Position


@dataclass(frozen=True, slots=True)
class DisregardPosition:
    """Nothing that was called at a position counts."""

    position: Position


@dataclass(frozen=True, slots=True)
class SelectNotFitted:
    """The crew names a position that this airframe does not have."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class SetPower:
    """A bus is on or off."""

    bus: str
    state: str


@dataclass(frozen=True, slots=True)
class Command:
    """A spoken command."""

    name: CommandName


@dataclass(frozen=True, slots=True)
class GiveReason:
    """Why the test is abandoned, in words for the record."""

    reason: str


ItemAction = Observe | NameDark | CloseWindow
Action = (
    ItemAction
    | Select
    | Stay
    | DisregardPosition
    | SelectNotFitted
    | SetPower
    | Command
    | GiveReason
)


def subject(action: Action) -> object:
    """What an action is about: two of one subject in one breath contradict each other."""
    match action:
        case Observe(item) | NameDark(item) | CloseWindow(item):
            return item.id
        case SetPower(bus):
            return SetPower, bus
        case Select(position):
            return Select, position.id == OFF
        case SelectNotFitted():
            return Select, False
        case _:
            return type(action)
