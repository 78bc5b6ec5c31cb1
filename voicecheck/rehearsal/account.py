"""The simulated crew's own account of a session: what it said, when, and what was true.

It is written as things happen and owes nothing to the engine; rehearsal.judge holds against it what
voicecheck makes of a session.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from voicecheck.world.faults import Fault


@dataclass(frozen=True, slots=True)
class Entry:
    """One callout as the crew said it. Times in seconds.

    about: item, bus, position or command. breath: number of the utterance that it was part of.
    right: of an item's call the key of the reading that was true when the crew looked. claims: keys
    that a yes was meant for. slow: a lamp that went out was called out of the time that a watching
    crew takes.
    """

    key: str
    about: str
    who: int
    start: float
    end: float
    words: str = ""
    breath: int = 0
    right: str | None = None
    claims: tuple[str, ...] = ()
    slow: bool = False

    @property
    def misread(self) -> bool:
        """Whether the crew called an item otherwise than it was."""
        return self.right is not None and self.right != self.key


@dataclass(frozen=True, slots=True)
class Scene:
    """How the aircraft truly was as something was said. buses: id to whether it is live."""

    at: float
    selector: str
    buses: Mapping[str, bool]
    faults: frozenset[Fault]


@dataclass(frozen=True, slots=True)
class Doing:
    """Something of the crew, the hearing or the aircraft that makes a session unkind, by name."""

    name: str
    at: float


@dataclass(slots=True)
class TimedLamp:
    """A lamp that ran: when the selector truly left, and when it truly went out (inf: never)."""

    item: str
    left: float
    out: float


@dataclass(slots=True)
class Account:
    """Everything in order. asked_again: how often the crew had to repeat or confirm itself.

    elsewhere: the crew is in another airframe than the session is of. agreed: it said yes to that.
    passed: callouts that were lost or read back otherwise than said, and that it let pass.
    slipped: callouts that it entered by mistake.
    """

    two_crew: bool = False
    channels: int = 1
    elsewhere: bool = False
    agreed: bool = False
    entries: list[Entry] = field(default_factory=list)
    scenes: list[Scene] = field(default_factory=list)
    timed: list[TimedLamp] = field(default_factory=list)
    doings: list[Doing] = field(default_factory=list)
    passed: set[str] = field(default_factory=set)
    slipped: set[str] = field(default_factory=set)
    asked_again: int = 0

    def of(self, item: str) -> list[Entry]:
        """All calls about an item, in order."""
        return [entry for entry in self.entries if entry.about == item]

    def scene(self, at: float) -> Scene | None:
        """How the aircraft was when that was said which began at `at`."""
        return next((s for s in reversed(self.scenes) if s.at <= at + 0.5), None)

    def ran(self, item: str, before: float) -> TimedLamp | None:
        """The lamp that ran last of those that had begun by then."""
        ran = (lamp for lamp in reversed(self.timed) if lamp.item == item and lamp.left <= before)
        return next(ran, None)

    def does(self, name: str, at: float) -> None:
        """Count something unkind."""
        self.doings.append(Doing(name, at))

    def lets_pass(self, keys: Iterable[str | None]) -> None:
        """Nobody notices what became of these."""
        self.passed.update(key for key in keys if key is not None)
