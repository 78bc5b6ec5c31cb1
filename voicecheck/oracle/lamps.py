"""Lamps that must go out, as a witness times them (rule 6 of witness.py)."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from voicecheck.checklist.resolved import Item, Position, Window
from voicecheck.oracle.plan import ANSWER_TIME, Spoken
from voicecheck.oracle.witness import NO_ACT, NOTHING, Act, Known, Timed, Told, Word

TOLERANCE: Final = 1e-9
"""Seconds of rounding that a limit may be missed by."""


class Lamps(Known):
    """What a call, a leaving or a silence says about them; it changes itself."""

    __slots__ = ()

    def _powered(self, item: str) -> bool:
        return all(self.buses.get(bus) == state for bus, state in self.plan.needs[item].items())

    def _sound(self, item: Item) -> bool:
        stages = (self.words[needed] for needed in item.after)
        return self._powered(item.id) and all(w.good and w.here for w in stages)

    def _put(self, item: str, word: Word) -> None:
        if word.good:
            self.before[item] = self.words[item]
        self.last = Act("item", item, self.words[item])
        self.words[item] = word

    def _untime_all(self) -> None:
        for item in self.timed:
            self._untimed(item)
        self.timed.clear()

    def _untimed(self, item: str) -> None:
        """It is open again; a finding from before stands beside that."""
        self.words[item] = NOTHING._replace(found=self.words[item].found)

    def _leave(self, left: Position, end: float) -> None:
        """Lamps that are lit, and not called out before, must go out from now on."""
        for item in left.items:
            if item.window is not None and self._sound(item) and not self.words[item.id].here:
                self.timed[item.id] = Timed(end, left=self.missed)

    def _lamp(self, spoken: Spoken, window: Window, call: Told) -> None:
        item = spoken.item.id
        running = self.timed.get(item)
        if running is None:
            self._not_left(spoken, call)
        elif self._powered(item):
            self._measured(spoken, window, running, call)
        else:
            del self.timed[item]
            self.last = NO_ACT
            if not spoken.good:
                self.words[item] = self.words[item]._replace(good=False)

    def _not_left(self, spoken: Spoken, call: Told) -> None:
        """A lamp whose time does not run: called out at its position it is out too early."""
        if self.at == spoken.item.position and spoken.good and self._sound(spoken.item):
            bad = self.missed is None
            self._put(spoken.item.id, Word(False, True, bad, call.key, call.start, found=bad))
        else:
            self.last = NO_ACT

    def _measured(self, spoken: Spoken, window: Window, running: Timed, call: Told) -> None:
        item, in_time = spoken.item.id, running.asked is None
        least, most = self._interval(running, call.start, good=spoken.good)
        if not spoken.good and in_time and least <= window.upper:
            self.last = NO_ACT  # still lit, as it may be
            return
        del self.timed[item]
        inside = window.lower - TOLERANCE <= least and most <= window.upper + TOLERANCE
        outside = most < window.lower - TOLERANCE or least > window.upper + TOLERANCE
        if spoken.good and inside and in_time:
            self._put(item, Word(good=True, here=True, key=call.key, start=call.start))
        else:
            bad = outside or not spoken.good
            found = bad or self.words[item].found
            begun = call.start if bad else self.words[item].start
            self._put(item, Word(bad=bad, here=bad, key=call.key, start=begun, found=found))

    def _interval(self, running: Timed, start: float, *, good: bool) -> tuple[float, float]:
        """Least and most seconds that it was lit; words not understood widen them."""
        reaction, half = self.plan.checklist.timing.reaction, self.plan.half
        left = running.anchor if running.left is None else min(running.left, running.anchor)
        first = start if running.called is None or not good else min(running.called, start)
        return first - running.anchor - reaction - half, start - left - reaction + half

    def _time(self, said: Collection[str]) -> None:
        for item, timed in list(self.timed.items()):
            if timed.asked is None:
                if "window-ask" in said:
                    self.timed[item] = timed._replace(asked=self.now)
            elif self.now >= max([timed.asked, *self._yes_awaited(item)]) + ANSWER_TIME - TOLERANCE:
                del self.timed[item]
                if timed.called is None:
                    self.words[item] = Word(bad=True, here=True, start=self.now, found=True)
                elif not self.words[item].bad:
                    self._untimed(item)  # the call may not have been understood

    def _yes_awaited(self, item: str) -> list[float]:
        """When calls of the item ended that were asked about: such a call is no silence."""
        return [told.end for told in self.asked if told.key.startswith(f"{item}:")]
