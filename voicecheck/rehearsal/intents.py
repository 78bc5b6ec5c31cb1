"""What a simulated crew means to do next, and what it then says."""

from __future__ import annotations

from dataclasses import dataclass

from voicecheck.world.acts import Utterance


@dataclass(frozen=True, slots=True)
class Go:
    """Turn the selector and say so."""

    position: str


@dataclass(frozen=True, slots=True)
class Power:
    """Switch a bus and call what its voltmeter then shows."""

    bus: str
    state: str


@dataclass(frozen=True, slots=True)
class Look:
    """Do what an item asks for, look and call it. who: 0 pilot, 1 the second."""

    item: str
    who: int = 0
    exactly: str | None = None
    """Say this reading whatever is seen: a slip of the tongue that is to be corrected."""


@dataclass(frozen=True, slots=True)
class NameDark:
    """Name the lamps of an item that are dark."""

    item: str


@dataclass(frozen=True, slots=True)
class Command:
    """Say a command. claims: what a yes or no is meant for."""

    name: str
    claims: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reason:
    """Say why the test is abandoned."""

    reason: str


@dataclass(frozen=True, slots=True)
class Repeat:
    """Say an utterance again."""

    what: Utterance


@dataclass(frozen=True, slots=True)
class Turn:
    """Turn the selector and say nothing."""

    position: str


@dataclass(frozen=True, slots=True)
class Disregard:
    """Take back all that was called at a position."""

    position: str


@dataclass(frozen=True, slots=True)
class Chat:
    """Talk to somebody else. command: a word for us too, said to them."""

    command: str | None = None


@dataclass(frozen=True, slots=True)
class Pause:
    """Do nothing for some seconds."""

    seconds: float


Intent = Go | Turn | Power | Look | NameDark | Command | Disregard | Reason | Repeat | Chat | Pause
