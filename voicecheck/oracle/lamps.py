"""The witness's rules about lamps that must go out: when they run, and what a call makes of it."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from voicecheck.checklist.resolved import Position, Window
from voicecheck.oracle.plan import ANSWER_TIME, USUAL_CALL, Spoken
from voicecheck.oracle.witness import NO_ACT, Act, Timed, Told, Word
from voicecheck.oracle.words import Words

TOLERANCE: Final = 1e-9
"""Seconds of rounding that a limit may be missed by."""


class Lamps(Words):
    """Knows which lamps run, and since when."""

    __slots__ = ()

    def _not_understood(self, start: float, end: float) -> None:
        self.missed = end if self.missed is None else self.missed
        for item, timed in self.timed.items():
            if timed.called is None:
                self.timed[item] = timed._replace(called=start)

    def _time(self, said: Collection[str]) -> None:
        for item, timed in list(self.timed.items()):
            if timed.asked is None:
                if "window-ask" in said:
                    self.timed[item] = timed._replace(asked=self.now)
            elif self.now >= max([timed.asked, *self._yes_awaited(item)]) + ANSWER_TIME - TOLERANCE:
                del self.timed[item]
                if timed.called is None:
                    self.words[item] = Word(bad=True, here=True, start=self.now, found=True)
                    self._add_found(item, self.now)
                elif not self.words[item].bad:
                    self._untimed(item)  # the call may not have been understood

    def _yes_awaited(self, item: str) -> list[float]:
        """When calls of the item ended that were asked about: such a call is no silence."""
        return [told.end for told in self.asked if told.key.startswith(f"{item}:")]

    def _lamp(
        self,
        spoken: Spoken,
        window: Window,
        call: Told,
        said: Collection[str],
        *,
        affirmed: bool,
    ) -> None:
        item = spoken.item.id
        running = self.timed.get(item)
        if running is None:
            self._not_left(spoken, call)
        elif not self._powered(item):
            del self.timed[item]
            self.last = NO_ACT
            if not spoken.good:
                self.words[item] = self.words[item]._replace(good=False)
        elif not affirmed and self._in_time(spoken, window, running, call):
            if self._found_before(item):
                self._ask(*[call] if "confirm-retest" in said else ())
            else:
                self._measured(spoken, window, running, call)
        else:
            self._measured(spoken, window, running, call)

    def _in_time(self, spoken: Spoken, window: Window, running: Timed, call: Told) -> bool:
        least, most = self._interval(running, call.start, good=spoken.good)
        inside = window.lower - TOLERANCE <= least and most <= window.upper + TOLERANCE
        return spoken.good and inside and running.asked is None

    def _not_left(self, spoken: Spoken, call: Told) -> None:
        """A lamp whose time does not run: called out at its position it is out too early."""
        item, here = spoken.item.id, self.at == spoken.item.position and spoken.good
        if here and self._sound(spoken.item):
            bad = self.missed is None
            self._put(item, Word(False, True, bad, call.key, call.start, found=bad))
        elif here:
            self.last = Act("refused", item, self.words[item])
            self.words[item] = self.words[item]._replace(good=False)
        else:
            self.last = NO_ACT

    def _measured(self, spoken: Spoken, window: Window, running: Timed, call: Told) -> None:
        item, in_time = spoken.item.id, running.asked is None
        least, most = self._interval(running, call.start, good=spoken.good)
        if not spoken.good and in_time and least <= window.upper:
            self.last = NO_ACT  # still lit, as it may be
            return
        del self.timed[item]
        outside = most < window.lower - TOLERANCE or least > window.upper + TOLERANCE
        if self._in_time(spoken, window, running, call):
            self._put(item, Word(good=True, here=True, key=call.key, start=call.start))
        else:
            bad = outside or not spoken.good
            found = bad or self.words[item].found
            begun = call.start if bad else self.words[item].start
            word = Word(bad=bad, here=bad, key=call.key, start=begun, found=found)
            self._put(item, word._replace(lit=self._still_lit(spoken, bad=bad)))

    def _interval(self, running: Timed, start: float, *, good: bool) -> tuple[float, float]:
        """Least and most seconds that it was lit; words not understood widen them."""
        reaction, half = self.plan.lag, self.plan.half
        left = running.anchor if running.left is None else min(running.left, running.anchor)
        first = start if running.called is None or not good else min(running.called, start)
        return first - running.anchor - reaction - half, start - left - reaction + half

    def _leave(self, left: Position, start: float, end: float) -> None:
        """Lamps that are lit, and not called out before, must go out from now on."""
        for item in left.items:
            if item.window is not None and self._sound(item) and not self.words[item.id].here:
                # The hand may move as the call begins, and that may be longer ago than allowed for.
                begun = start + max(USUAL_CALL, self.plan.checklist.timing.hand_before)
                earliest = [t for t in (self.missed, begun) if t is not None and t < end]
                self.timed[item.id] = Timed(end, left=min(earliest, default=None))
