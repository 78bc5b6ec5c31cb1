"""The simulated crew's own account of a session: what it said, did and saw.

It is written as things happen and owes nothing to the engine: what voicecheck makes of a
session is held against it afterwards (rehearsal.judge).
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, field, replace
from itertools import takewhile

from voicecheck.checklist.resolved import Grade


class Said(enum.StrEnum):
    """What an entry is about."""

    ITEM = "item"
    POWER = "power"
    POSITION = "position"
    COMMAND = "command"


@dataclass(slots=True)
class Entry:
    """One callout as the crew meant it. Times in seconds.

    about: item, bus, position or command. grade, right: of an item's call, and the key of the
    reading that was true when the crew looked. claims: keys that a yes was meant for.
    by_yes: not spoken, but agreed to when it was read back. agreed_away: spoken, and then a yes
    said to something else that was read back instead. slow: a lamp that went out was
    called out of the time that a watching crew takes. got_through: False where the crew was
    told, or could hear, that it had not been understood.
    """

    said: Said
    key: str
    about: str
    who: int
    start: float
    end: float
    words: str = ""
    grade: Grade | None = None
    right: str | None = None
    state: str | None = None
    claims: tuple[str, ...] = ()
    by_yes: bool = False
    slow: bool = False
    got_through: bool = True
    withdrawn: bool = False
    agreed_away: bool = False

    @property
    def gone(self) -> bool:
        """Whether the crew took it back, knowingly or by a yes to something else."""
        return self.withdrawn or self.agreed_away

    @property
    def misread(self) -> bool:
        """Whether the crew called an item otherwise than it was."""
        return self.said is Said.ITEM and self.right is not None and self.right != self.key


@dataclass(slots=True)
class TimedLamp:
    """A lamp that ran: when the selector truly left, and when it truly went out (inf: never)."""

    item: str
    left: float
    out: float


@dataclass(slots=True)
class Account:
    """Everything in order. asked_again: how often the crew had to repeat or confirm itself."""

    two_crew: bool = False
    channels: int = 1
    entries: list[Entry] = field(default_factory=list)
    timed: list[TimedLamp] = field(default_factory=list)
    asked_again: int = 0

    def add(self, entry: Entry) -> None:
        """One more callout."""
        self.entries.append(entry)

    def latest(self, key: str) -> Entry | None:
        """The latest call of that key."""
        return next((entry for entry in reversed(self.entries) if entry.key == key), None)

    def last_about_aircraft(self) -> Entry | None:
        """The last callout that was no command: what "correction" takes back."""
        for entry in reversed(self.entries):
            if entry.said is not Said.COMMAND:
                return entry
        return None

    def same_call(self, last: Entry) -> tuple[Entry, ...]:
        """The call and, for bad news, those directly before it that said the same and were lost.

        One that got through stands when its repeat is taken back, and the crew is told so.
        """
        if last.said is not Said.ITEM or last.grade is Grade.GOOD:
            return (last,)
        here = takewhile(lambda e: e.said is not Said.POSITION, reversed(self.entries))
        calls = [e for e in here if e.said is Said.ITEM and e.about == last.about]
        earlier = [e for e in calls if not e.withdrawn and e is not last]
        lost = takewhile(lambda e: e.key == last.key and not e.got_through, earlier)
        return (last, *lost)

    def as_said(self) -> Account:
        """The same without any yes to what was not said: the crew's own words and no more."""
        spoken = [
            replace(entry, agreed_away=False)
            for number, entry in enumerate(self.entries)
            if not entry.by_yes or self._said_before(entry, number)
        ]
        return replace(self, entries=spoken)

    def _said_before(self, entry: Entry, number: int) -> bool:
        """Whether a yes was to the crew's own last word on the matter."""
        for before in reversed(self.entries[:number]):
            same = before.said is Said.POSITION or before.about == entry.about
            if before.said is entry.said and same and not before.by_yes:
                return before.key == entry.key and not before.withdrawn
        return False

    def of(self, item: str) -> list[Entry]:
        """All calls about an item, in order."""
        return [e for e in self.entries if e.said is Said.ITEM and e.about == item]
