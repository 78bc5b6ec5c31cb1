"""What a simulated crew has in mind: where it believes to be, and what it has called."""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from voicecheck.checklist.resolved import (
    OFF,
    Checklist,
    Grade,
    Item,
    Reading,
    position_key,
)
from voicecheck.rehearsal.account import Account
from voicecheck.rehearsal.intents import Command, Intent, Repeat
from voicecheck.rehearsal.manners import Manners
from voicecheck.world.acts import Utterance
from voicecheck.world.faults import needs
from voicecheck.world.wordings import Wordings

PATIENCE: Final = 4
"""Times that a crew tries the same item before it lets it be."""
IN_VAIN: Final = 2
"""Times that it switches a bus that does not do as it should."""
INSISTING: Final = 5
"""Times that it begins again about one piece of bad news that is not taken."""


@dataclass(slots=True)
class Watched:
    """A lamp that is to go out. left: when the crew turned the selector away."""

    item: Item
    lamp: Item
    left: float


@dataclass(slots=True)
class Memory:
    """Nothing here comes from the engine: only from what was done, seen, said and heard."""

    checklist: Checklist
    wordings: Wordings
    order: list[str]
    manners: Manners
    chance: random.Random
    account: Account
    position: str | None = None
    told_position: str | None = None
    """The position that was read back last."""
    called: dict[str, str] = field(default_factory=dict)
    """Item to the reading called last and thought to stand."""
    here: dict[str, str] = field(default_factory=dict)
    """The same, of the present visit."""
    power: dict[str, str] = field(default_factory=dict)
    power_asked: dict[str, str] = field(default_factory=dict)
    """Buses called and not yet affirmed, by the key of the callout."""
    tries: dict[str, int] = field(default_factory=dict)
    insisted: dict[str, int] = field(default_factory=dict)
    """Bad news by its key: how often the crew began again because it was not taken."""
    left_out: set[str] = field(default_factory=set)
    watching: dict[str, Watched] = field(default_factory=dict)
    agenda: deque[Intent] = field(default_factory=deque)
    last: Utterance | None = None
    """The last words, a command's too."""
    call: Utterance | None = None
    """The last words that were no command."""
    latest: str | None = None
    """Key of what was called or agreed to last: what "correction" takes back."""
    looked: tuple[str, int] | None = None
    """The item that was called or agreed to last, and by whom."""
    agreed: tuple[str, ...] = ()
    """What the last yes was to."""
    asked: frozenset[str] = frozenset()
    """Own calls about items or places that were asked about and have had neither yes nor no."""
    repeats: int = 0
    held: bool = False
    before_gap: dict[str, str] = field(default_factory=dict)
    """Power as it was before a gap, until it is affirmed or called again."""
    over: bool = False
    leaving: int = 0
    """How far the crew's patience is gone, in steps of rehearsal.patience."""
    short: bool = False
    """The crew will be content with what is missing."""
    now: float = 0.0
    away: float = 0.0
    """Until when nobody is in the cockpit."""
    absent: float = 0.0
    """Seconds for which nobody was there, which cost no patience."""

    def does(self, name: str) -> bool:
        """Whether it happens this time, at the rate of that name; counted."""
        rate: float = getattr(self.manners, name)
        if rate <= 0 or self.chance.random() >= rate:
            return False
        self.account.does(name, self.now)
        return True

    def leave(self, seconds: float) -> None:
        """Nobody is here for so long."""
        self.away = self.now + seconds
        self.absent += seconds

    def lets_pass(self, values: Mapping[str, str]) -> None:
        """Nobody minds what was read back, or that nothing was."""
        read = [words for value in values.values() for words in value.split(", ")]
        meant = [self.wordings.meant_by(words, self.told_position) for words in read]
        places = [p.id for p in self.checklist.positions if p.say in read]
        self.account.lets_pass([*meant, *map(position_key, places)])
        for said in (self.call, self.last):
            self.account.lets_pass(said.keys if said else ())

    def said(self, key: str, who: int) -> None:
        """This was called, or agreed to."""
        self.latest = key
        if key in self.wordings.readings:
            self.looked = self.wordings.readings[key][0].id, who

    def called_last(self) -> list[tuple[Item, Reading]]:
        """Items of the last words, and what was called of them."""
        keys = self.call.keys if self.call else ()
        return [self.wordings.readings[key] for key in keys if key in self.wordings.readings]

    def left_unanswered(self) -> None:
        """Something else is said instead of a yes or no, which would meet no question any more."""
        for intent in list(self.agenda) if self.asked else ():
            answer = intent.what if isinstance(intent, Repeat) else intent
            if isinstance(answer, Command | Utterance) and self.asked & set(answer.claims):
                self.agenda.remove(intent)
        self.asked = frozenset()

    def first(self, *intents: Intent) -> None:
        """These before anything else; what is already being answered is not answered twice."""
        for intent in reversed(intents):
            if intent not in self.agenda:
                self.agenda.appendleft(intent)

    def item(self, item_id: str) -> Item:
        """The item with this id."""
        return self.checklist.item(item_id)

    def needs(self, item: Item) -> dict[str, str]:
        """The power an item needs, as the checklist says."""
        return needs(self.checklist, item)

    def lacking(self, item: Item) -> list[tuple[str, str]]:
        """Buses that are not yet as the item needs them, as far as the crew knows."""
        return [(b, s) for b, s in self.needs(item).items() if self.power.get(b) != s]

    def without_power(self, item: Item) -> bool:
        """Whether it, or an earlier stage of it, lacks a bus that was switched in vain."""
        return any(
            self.tries.get(f"power {bus} {state}", 0) >= IN_VAIN
            for bus, state in self.lacking(item)
        ) or any(self.without_power(self.item(stage)) for stage in item.after)

    def good(self, item_id: str, calls: dict[str, str]) -> bool:
        """Whether an item was called good."""
        key = calls.get(item_id)
        return key is not None and self.wordings.readings[key][1].grade is Grade.GOOD

    def blocked(self, item: Item) -> bool:
        """Whether an earlier stage was called bad, so that this one cannot be tested.

        A switch can be put back all the same.
        """
        return not item.put_back and any(
            (stage in self.called and not self.good(stage, self.called))
            or self.blocked(self.item(stage))
            for stage in item.after
        )

    def tired_of(self, item: Item) -> bool:
        """Whether it was tried often enough."""
        return self.tries.get(item.id, 0) >= PATIENCE

    def open(self, position_id: str) -> list[Item]:
        """Items of a position that the crew thinks still want a call."""
        return [
            item
            for item in self.checklist.position(position_id).items
            if item.id not in self.called
            and item.id not in self.watching
            and item.id not in self.left_out
            and not self.blocked(item)
            and not self.tired_of(item)
            and not self.watching.keys() & set(item.dark_of)
        ]

    def to_call_here(self) -> list[Item]:
        """What can be called with the selector where it is, stages in their order."""
        if self.position is None:
            return []
        wanted = []
        for item in self.open(self.position):
            if item.window is None:
                wanted.append(item)
                continue
            # A lamp that must go out runs only if it was called lit in this visit.
            again = [self.item(stage) for stage in item.after]
            wanted += [stage for stage in again if stage.id not in self.here]
        return list({item.id: item for item in wanted}.values())

    def next_position(self) -> str | None:
        """The next position of the crew's order that is not finished, or None."""
        for position in self.order:
            if position != self.position and position != OFF and self.open(position):
                return position
        return None

    def insists(self, item: Item, key: str) -> bool:
        """Whether to begin again about bad news; after some times the item is let be."""
        self.insisted[key] = self.insisted.get(key, 0) + 1
        if self.insisted[key] <= INSISTING:
            return True
        self.left_out.add(item.id)
        self.tries[item.id] = PATIENCE
        return False

    def drop(self, *intents: Intent) -> None:
        """These are not to be done any more."""
        self.agenda = deque(intent for intent in self.agenda if intent not in intents)

    def overtaken(self, item_id: str) -> None:
        """A throw or something unforeseen is called: what it makes untrue is to be called again."""
        for item in self.checklist.position(self.item(item_id).position).items:
            thrown = item.put_back and item_id in item.after
            if (thrown or item_id in item.dark_of) and item.id in self.called:
                self.reopen(item)

    def reopen(self, item: Item) -> None:
        """An item is to be called again."""
        self.called.pop(item.id, None)
        self.here.pop(item.id, None)
        self.left_out.discard(item.id)
