"""What a call leaves of an item's word, and what it makes untrue of others (witness.py)."""

from __future__ import annotations

from voicecheck.checklist.resolved import Item
from voicecheck.oracle.judging import Judging
from voicecheck.oracle.plan import DARK, Spoken
from voicecheck.oracle.witness import NO_ACT, NOTHING, Told, Word


class Words(Judging):
    """The part of a witness that keeps the words of items; witnessing.py has the events."""

    __slots__ = ()

    def _again(self, spoken: Spoken, key: str) -> bool:
        """A dark lamp named again is one more call; any other call made again is the same call."""
        word = self.words[spoken.item.id]
        same = word.here and word.key == key and spoken.kind != DARK
        return same and (word.good or word.bad)

    def _drop_half(self, item: str) -> None:
        if self.half is not None and self.half[0] == item:
            self.half = None

    def _thrown(self, throw: Item) -> None:
        """The switch of a throw that is called is not where it was called back."""
        for item in self.plan.items.values():
            if item.put_back and throw.id in item.after:
                self._lose(item.id)

    def _lose(self, item: str) -> None:
        """What was called good is not good any more, nor half of it."""
        self._drop_half(item)
        if self.words[item].good:
            self.words[item] = NOTHING

    def _unforeseen(self, spoken: Spoken, call: Told) -> None:
        """A finding, and where nothing should show it is not good any more that nothing does."""
        item = spoken.item.id
        for other in self.plan.positions[spoken.item.position].items:
            if item in other.dark_of:
                self._lose(other.id)
        if self._again(spoken, call.key):
            self.last = NO_ACT
        else:
            self._put(item, Word(False, True, True, call.key, call.start, found=True, lit=True))

    def _lit(self, item: Item) -> bool:
        """Whether what must be dark for it was called lit."""
        return any(self.words[other].found and self.words[other].lit for other in item.dark_of)

    def _doubtful(self, spoken: Spoken, key: str) -> bool:
        """Whether good news needs a yes: after bad news, or what was called lit anywhere."""
        lit = not self._again(spoken, key) and self._lit(spoken.item)
        return self._found_before(spoken.item.id) or lit

    def _still_lit(self, spoken: Spoken, *, bad: bool) -> bool:
        """Whether the finding that stands of a timed lamp is that it was called lit."""
        return not spoken.good if bad else self.words[spoken.item.id].lit

    def _running(self, spoken: Spoken, call: Told) -> bool:
        """Whether a lamp is timed that must be out for it; these words may be its call."""
        running = [item for item in spoken.item.dark_of if item in self.timed]
        for item in running:
            if self.timed[item].called is None:
                self.timed[item] = self.timed[item]._replace(called=call.start)
        return bool(running)
