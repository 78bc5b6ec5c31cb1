"""What a simulated crew sees of the panel, and how it calls that."""

from __future__ import annotations

import random
from typing import Final

from voicecheck.checklist.resolved import Checklist, Item, Shows
from voicecheck.rehearsal.intents import Disregard, Go, Look
from voicecheck.rehearsal.memory import Memory
from voicecheck.world.acts import Utterance, Wait
from voicecheck.world.aircraft import SETTLED, Aircraft
from voicecheck.world.panel import dark_readings, right_reading

HANDS: Final = frozenset(
    {
        *(Shows.FALLS_SILENT, Shows.SOUNDS_ON, Shows.RETURNS),
        *(Shows.RESETS, Shows.STAYS, Shows.THROWN, Shows.BACK),
    }
)
"""Items that ask for a hand before they show anything."""
NOTICED: Final = 0.3
"""Share of its looks at which a crew sees that the selector is elsewhere."""


class Looking:
    """The eyes of a crew."""

    checklist: Checklist
    aircraft: Aircraft
    memory: Memory
    chance: random.Random

    def does(self, name: str) -> bool:
        """Whether it happens this time, at the rate of that name."""
        return self.memory.does(name)

    def _pause(self) -> float:
        return self.chance.uniform(0.25, 0.9)

    def _waits(self) -> bool:
        return not self.memory.watching and not self.does("talk_over")

    def _look(self, look: Look, now: float) -> Utterance | Wait | None:
        item = self.memory.item(look.item)
        if item.window is not None:
            return self._still_lit(item, now)
        if item.position != self.memory.position:
            return None  # gone elsewhere meanwhile; the plan comes back to it
        if self._sees_wrong_place(item):
            return None
        odd = self.aircraft.panel(now).odd
        if odd and not self.does("overlook") and (seen := self._odd(item, odd[0])):
            return self._something_else(seen)
        joined = [item]
        if look.exactly is None and self.does("compound"):
            joined += self._in_one_breath(item)
        return self._called(look, joined, now)

    def _called(self, look: Look, items: list[Item], now: float) -> Utterance:
        parts: list[tuple[str, str]] = []
        looked: list[str | None] = []
        for each in items:
            right, key = self._reads(each, look, now)
            parts.append((key, self.memory.wordings.any(key, self.chance)))
            looked.append(right)
            if key != each.readings[0].key:
                break  # something to say of its own
        joiner = " and " if self.chance.random() < 0.3 else " "
        words = joiner.join(said for _, said in parts)
        pause = SETTLED + self._pause()
        return Utterance(look.who, tuple(parts), words, pause, self._waits(), tuple(looked))

    def _reads(self, item: Item, look: Look, now: float) -> tuple[str, str]:
        """What is true of an item once the hand has done its part, and what the crew calls."""
        if item.shows in HANDS:
            self.aircraft.do(item.id, now)
        panel = self.aircraft.panel(now + SETTLED)
        right, good = right_reading(item, panel).key, item.readings[0].key
        if look.exactly is not None:
            return right, look.exactly
        if self.does("misread"):
            return right, self.chance.choice(item.readings).key
        dim = right != good and panel.dim(item) and self.does("overlook")
        return right, good if dim else right

    def _sees_wrong_place(self, item: Item) -> bool:
        """The selector is not where it was called: go there, and perhaps take back what was."""
        if self.aircraft.selector == item.position or self.chance.random() >= NOTICED:
            return False
        whole = self.checklist.position(item.position).disregard and self.chance.random() < 0.5
        back = [Disregard(item.position)] if whole else []
        for each in self.checklist.position(item.position).items if back else ():
            self.memory.reopen(each)
        self.memory.first(*back, Go(item.position))
        return True

    def _odd(self, item: Item, kind: str) -> Look | None:
        """What is odd on the panel, if it has not been called in this visit."""
        other = self.checklist.position(item.position).other
        if other is None or other.id in self.memory.here:
            return None
        return Look(other.id, exactly=f"{other.id}:{kind}")

    def _something_else(self, look: Look) -> Utterance | None:
        """What the checklist does not expect, as it was seen; no simulated panel shows it."""
        if look.exactly is None or self.memory.item(look.item).position != self.memory.position:
            return None
        said = self.memory.wordings.any(look.exactly, self.chance)
        parts = ((look.exactly, said),)
        return Utterance(look.who, parts, said, self._pause(), self._waits(), (look.exactly,))

    def _in_one_breath(self, first: Item) -> list[Item]:
        """What the crew sees at the same time and can name together."""
        if first.shows in HANDS:
            return []
        seen = (Shows.LIT, Shows.SOUNDS, Shows.READS, Shows.FELT, Shows.DARK, Shows.NOTHING)
        ahead = self.memory.to_call_here()
        onward = [i for i in ahead if i.id != first.id and i.shows in seen]
        alike = [i for i in onward if self.memory.needs(i) == self.memory.needs(first)]
        return alike[: self.chance.randint(1, 2)]

    def _name_dark(self, item: Item, now: float) -> Utterance | None:
        dark = dark_readings(item, self.aircraft.panel(now + SETTLED))
        if item.position != self.memory.position or not dark:
            return None
        if self.does("misread"):
            dark = [self.chance.choice(item.darks)]
        parts = tuple((r.key, self.memory.wordings.any(r.key, self.chance)) for r in dark[:4])
        words = " ".join(said for _, said in parts)
        return Utterance(0, parts, words, self._pause(), looked=tuple(key for key, _ in parts))

    def _still_lit(self, item: Item, now: float) -> Utterance:
        """An answer to the question whether a lamp is out."""
        lamp = self.memory.item(item.after[0])
        right = right_reading(item, self.aircraft.panel(now), lamp).key
        said = self.memory.wordings.any(right, self.chance)
        self.memory.watching.pop(item.id, None)
        return Utterance(0, ((right, said),), said, self._pause(), looked=(right,), slow=True)
