"""What the rules of the witness have in common: what is sound, and what stands of an item."""

from __future__ import annotations

from voicecheck.checklist.resolved import Item
from voicecheck.oracle.witness import NOTHING, Act, Found, Known, Told, Word


class Judging(Known):
    """Knows when a call is sound, and writes down what it comes to."""

    __slots__ = ()

    def _powered(self, item: str) -> bool:
        return all(self.buses.get(bus) == state for bus, state in self.plan.needs[item].items())

    def _sound(self, item: Item) -> bool:
        stages = [self.words[needed] for needed in item.after]
        sound = self.airframe and self._powered(item.id)
        if item.put_back:
            return sound and any(w.good or w.found for w in stages)
        return sound and all(w.good and w.here for w in stages)

    def _put(self, item: str, word: Word) -> None:
        if word.good:
            self.before[item] = self.words[item]
        self.last = Act("item", item, self.words[item], self.found.get(item, ()))
        self.words[item] = word
        if word.bad:
            self._add_found(item, word.start)

    def _add_found(self, item: str, start: float) -> None:
        self.found[item] = (*self.found.get(item, ()), Found(here=True, start=start))

    def _found_before(self, item: str) -> bool:
        """Whether a finding stands, of this visit or of another, that good news would follow."""
        word, found = self.words[item], self.found.get(item, ())
        if word.good:
            return False
        return (word.bad and word.here) or bool(found and not found[-1].here)

    def _untime_all(self) -> None:
        for item in self.timed:
            self._untimed(item)
        self.timed.clear()

    def _untimed(self, item: str) -> None:
        """It is open again; a finding from before stands beside that."""
        word = self.words[item]
        self.words[item] = NOTHING._replace(found=word.found, lit=word.lit)

    def _ask(self, *told: Told) -> None:
        self.asked, self.last = tuple(map(self._seen, told)), Act("question")

    def _seen(self, told: Told) -> Told:
        """With what had been called in the visit in which a bus was."""
        if not told.key.startswith("power:") or told.here is not None:
            return told
        words = {(item, word.start) for item, word in self.words.items() if word.here}
        found = {(item, f.start) for item, all_of in self.found.items() for f in all_of if f.here}
        return told._replace(here=frozenset(words | found))
