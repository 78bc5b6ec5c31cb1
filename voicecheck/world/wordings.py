"""The words a simulated crew has learnt: every callout of a checklist, by its key."""

from __future__ import annotations

import random

from voicecheck.checklist.resolved import Checklist, Item, Reading, position_key


class Wordings:
    """Key to phrases and back, for one checklist."""

    def __init__(self, checklist: Checklist) -> None:
        self.phrases: dict[str, tuple[str, ...]] = {}
        self.readings: dict[str, tuple[Item, Reading]] = {}
        self._checklist = checklist
        for item in (*checklist.items, *checklist.others):
            for reading in (*item.readings, *item.darks):
                self.phrases[reading.key] = reading.phrases
                self.readings[reading.key] = (item, reading)
        for position in checklist.positions:
            self.phrases[position_key(position.id)] = position.select
            self.phrases[f"stay:{position.id}"] = (position.say,)  # asked, and never called
            if position.disregard:
                self.phrases[f"disregard:{position.id}"] = position.disregard
        for bus in checklist.buses:
            self.phrases[f"power:{bus.id}:on"] = bus.on
            self.phrases[f"power:{bus.id}:off"] = bus.off
        for name, phrases in checklist.commands.items():
            self.phrases[f"command:{name}"] = phrases
        for reason, phrases in checklist.reasons.items():
            self.phrases[f"reason:{reason}"] = phrases

    def about(self, key: str) -> str:
        """The item, bus, position or command of a callout."""
        if key in self.readings:
            return self.readings[key][0].id
        kind, _, rest = key.partition(":")
        return rest.partition(":")[0] if kind == "power" else rest

    def first(self, key: str) -> str:
        """The wording in which voicecheck reads a callout back."""
        return self.phrases[key][0]

    def placed(self, key: str) -> str:
        """The same with the name of the position, where others share the words."""
        return self._checklist.placed(key, self.first(key))

    def any(self, key: str, chance: random.Random) -> str:
        """One of a callout's wordings, mostly the first."""
        phrases = self.phrases[key]
        return phrases[0] if chance.random() < 0.7 else chance.choice(phrases)

    def meant_by(self, words: str, position: str | None) -> str | None:
        """The callout that is read back in these words, in this position."""
        found = None
        for key, phrases in self.phrases.items():
            if words in (phrases[0], self.placed(key)):
                known = self.readings.get(key)
                if known is None or known[0].position == position or known[0].window is not None:
                    return key
                found = found or key
        return found
