"""How one event changes a witness: the rules that witness.py states."""

from __future__ import annotations

from collections.abc import Collection, Container, Iterable
from dataclasses import replace
from math import inf
from typing import Final, Self

from voicecheck.checklist.resolved import OFF, Item, Position, Window, position_of
from voicecheck.engine.events import (
    Began,
    Ended,
    Event,
    Heard,
    KeyPressed,
    Lost,
    Overheard,
    Passed,
    Unclear,
)
from voicecheck.oracle.plan import ANSWER_TIME, DARK, Plan, Spoken
from voicecheck.oracle.witness import NO_ACT, NOTHING, Act, Timed, Told, Word
from voicecheck.oracle.words import Words

TOLERANCE: Final = 1e-9
"""Seconds of rounding that a limit may be missed by."""


class Witness(Words):
    """Left as it is by `after`, which returns the next one."""

    __slots__ = ()

    @classmethod
    def fresh(cls, plan: Plan) -> Self:
        """Before anything has happened."""
        return cls(plan, dict.fromkeys(plan.items, NOTHING))

    def after(self, event: Event, said: Collection[str]) -> Self:
        """The witness after an event that was accepted. said: ids of the prompts it brought."""
        own = (dict(self.words), dict(self.buses), dict(self.timed), dict(self.before))
        words, buses, timed, before = own
        heard = replace(self, words=words, buses=buses, timed=timed, before=before)
        heard._take(event, said)
        return heard

    def _take(self, event: Event, said: Collection[str]) -> None:
        match event:
            case Began(now, second, channels):
                self.second, self.channels, self.now = second, channels, now
            case Heard(key, _, start, end, _, channel):
                self.now = max(self.now, end)
                self._called(Told(key, channel, start, end), said)
            case KeyPressed(key, at):
                self.now = max(self.now, at)
                self._called(Told(key, 0, at, at), said)
            case Unclear(start, end, guess, channel):
                self.now = max(self.now, end)
                self._not_understood(start, end)
                self._guessed(tuple(Told(key, channel, start, end) for key in guess), said)
            case Overheard(start, end):
                self.now = max(self.now, end)
                self._not_understood(start, end)
            case Ended():
                self._unanswered()
            case Passed(now):
                self.now = max(self.now, now)
                self._time(said)
            case Lost(part, at):
                self.now = max(self.now, at)
                if part in ("microphone", "session"):
                    self._not_understood(at, at)
                    for item in self.timed:
                        self._untimed(item)
                    self.timed.clear()
            case _:
                pass

    def _not_understood(self, start: float, end: float) -> None:
        self.missed = end if self.missed is None else self.missed
        for item, timed in self.timed.items():
            if timed.called is None:
                self.timed[item] = timed._replace(called=start)

    def _guessed(self, guess: tuple[Told, ...], said: Collection[str]) -> None:
        self._may_have_moved(guess)
        if guess and not self.asked and "confirm" in said:
            self._ask(*guess)
        else:
            asked = {open_one.key for open_one in self.asked}
            self._doubt(told.key for told in guess if told.key not in asked)
        self._ask_place(said)

    def _may_have_moved(self, guess: tuple[Told, ...]) -> None:
        for told in guess if self.at is not None else ():
            if position_of(told.key) is not None:
                self._answered({told.key})
                self.maybe = (*self.maybe, told)
                self._settle()

    def _answered(self, keys: Container[str], since: float = -inf) -> None:
        """Those are not open any more, nor is what was called until `since`."""
        self.maybe = tuple(t for t in self.maybe if t.key not in keys and t.start > since)

    def _settle(self) -> None:
        """A position that was called where the selector is known to be tells nothing."""
        while self.maybe and position_of(self.maybe[0].key) == self.at:
            self.maybe = self.maybe[1:]

    def _unanswered(self) -> None:
        """The crew goes on without a yes or no to what was asked."""
        self._doubt(told.key for told in self.asked)

    def _doubt(self, keys: Iterable[str]) -> None:
        """Bad news that may have been called: what was called good is not good any more."""
        for key in keys:
            spoken = self.plan.readings.get(key)
            if spoken is not None and not spoken.good and self.words[spoken.item.id].good:
                self.words[spoken.item.id] = NOTHING

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

    def _called(self, call: Told, said: Collection[str]) -> None:
        if call.key == "command:affirm":
            asked, self.asked = self.asked, ()
            open_keys = {told.key for told in self.maybe}
            places = (told.start for told in asked if told.key in open_keys)
            self._answered({told.key for told in asked}, max(places, default=-inf))
            for told in asked:
                self._act(told._replace(channel=call.channel), said, affirmed=True)
        elif call.key.startswith("command:"):
            self._command(call.key.removeprefix("command:"), said)
        else:
            self._act(call, said, affirmed=False)

    def _act(self, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        key = call.key
        spoken, place = self.plan.readings.get(key), position_of(key)
        if not affirmed:
            self._unanswered()
        if key.startswith("power:"):
            self._power(call, said, affirmed=affirmed)
        elif spoken is not None:
            self._keep_asked({told.key for told in self.maybe})
            self._item(spoken, call, said, affirmed=affirmed)
        elif place is not None and place in self.plan.positions:
            self._keep_asked()
            self._select(place, call.end)
            self._answered((), call.start)
            self._settle()
        elif key in self.plan.others:
            self._keep_asked({told.key for told in self.maybe})
            self.last = NO_ACT

    def _keep_asked(self, keys: Container[str] = ()) -> None:
        """Any call but of power means that the question about an item was not answered."""
        self.asked = tuple(t for t in self.asked if t.key.startswith("power:") or t.key in keys)

    def _item(self, spoken: Spoken, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        if spoken.item.window is not None:
            self._lamp(spoken, spoken.item.window, call)
        elif self.at == spoken.item.position:
            if any(told.start < call.start for told in self.maybe):
                self._thrown(spoken.item)
                self._of_unknown_place(spoken, said)
                return
            self._thrown(spoken.item)
            if spoken.item.unforeseen:
                self._unforeseen(spoken, call)
            elif spoken.good:
                self._good(spoken, call, said, affirmed=affirmed)
            else:
                self._bad(spoken, call)
            self.missed = self.missed if self.maybe else None

    def _of_unknown_place(self, spoken: Spoken, said: Collection[str]) -> None:
        """The selector may be elsewhere: nothing is written down, and bad news still counts."""
        item = spoken.item.id
        self.last = NO_ACT
        if not spoken.good:
            self._drop_half(item)
            if self.words[item].good:
                self.words[item] = NOTHING
        self.asked = self.maybe[-1:] if "confirm-position" in said else ()

    def _powered(self, item: str) -> bool:
        return all(self.buses.get(bus) == state for bus, state in self.plan.needs[item].items())

    def _sound(self, item: Item) -> bool:
        stages = [self.words[needed] for needed in item.after]
        if item.put_back:
            return self._powered(item.id) and any(w.good or w.found for w in stages)
        return self._powered(item.id) and all(w.good and w.here for w in stages)

    def _by_other(self, item: str, channel: int) -> bool:
        """Whether this is the second half of a read-back."""
        half = self.half
        return half is not None and half[0] == item and (self.channels == 1 or half[1] != channel)

    def _bad(self, spoken: Spoken, call: Told) -> None:
        item, word = spoken.item.id, self.words[spoken.item.id]
        again, by_other = self._again(spoken, call.key), self._by_other(item, call.channel)
        self._drop_half(item)
        if not self._sound(spoken.item):
            self.words[item] = word._replace(good=False)
            self.last = Act("refused", item, word)
        elif by_other and spoken.kind != DARK and not again:
            # The two differ: neither call is taken; open again, unless bad news stood before.
            self.last = NO_ACT
            if not (word.bad and word.here):
                self._untimed(item)
        elif again:
            self.last = NO_ACT  # the finding was called before, and stands
        else:
            self._put(item, Word(False, True, True, call.key, call.start, found=True))

    def _good(self, spoken: Spoken, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        item, by_other = spoken.item.id, self._by_other(spoken.item.id, call.channel)
        had_yes = affirmed or (by_other and self.channels > 1)
        if not self._sound(spoken.item) or self._running(spoken, call):
            self.last = NO_ACT
        elif not had_yes and self._doubtful(spoken, call.key):
            self._ask(*[call] if "confirm-change" in said else ())
        elif self._again(spoken, call.key):
            # Taking it back takes back what it repeats.
            self.last = Act("item", item, self.before.get(item, NOTHING))
        else:
            self._count(spoken, call, by_other=by_other)

    def _count(self, spoken: Spoken, call: Told, *, by_other: bool) -> None:
        """A good call is the first half of a read-back, or gives cause."""
        if spoken.item.read_back and self.second and not by_other:
            self.half = (spoken.item.id, call.channel if self.channels > 1 else 0)
            self.last = Act("half")
            return
        if by_other:
            self.half = None
        self._put(spoken.item.id, Word(good=True, here=True, key=call.key, start=call.start))

    def _ask(self, *told: Told) -> None:
        self.asked, self.last = told, Act("question")

    def _ask_place(self, said: Collection[str]) -> None:
        if "confirm-position" in said and self.maybe:
            self._ask(self.maybe[-1])

    def _untimed(self, item: str) -> None:
        """It is open again; a finding from before stands beside that."""
        word = self.words[item]
        self.words[item] = NOTHING._replace(found=word.found, lit=word.lit)

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
            word = Word(bad=bad, here=bad, key=call.key, start=begun, found=found)
            self._put(item, word._replace(lit=self._still_lit(spoken, bad=bad)))

    def _interval(self, running: Timed, start: float, *, good: bool) -> tuple[float, float]:
        """Least and most seconds that it was lit; words not understood widen them."""
        reaction, half = self.plan.checklist.timing.reaction, self.plan.half
        left = running.anchor if running.left is None else min(running.left, running.anchor)
        first = start if running.called is None or not good else min(running.called, start)
        return first - running.anchor - reaction - half, start - left - reaction + half

    def _power(self, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        _, bus, state = call.key.split(":")
        if affirmed:
            self.buses[bus] = state
            self.last = Act("power", bus)
            self._unpowered(bus, state, call.start)
            return
        kept = (told for told in self.asked if told.key.startswith("power:"))
        others = [told for told in kept if not told.key.startswith(f"power:{bus}:")]
        self._ask(*others, *[call] if "confirm" in said else ())
        self.buses.pop(bus, None)

    def _unpowered(self, bus: str, state: str, since: float) -> None:
        """What needs the bus in another state has no cause here, nor where called `since`."""
        position = self.plan.positions.get(self.at or "")
        here = {item.id for item in position.items} if position is not None else set()
        both = {"on", "off"} <= {self.plan.needs[item].get(bus) for item in here}
        for item, needs in self.plan.needs.items():
            if needs.get(bus) in (None, state):
                continue
            word = self.words[item]
            if word.start >= since or (item in here and word.here and not both):
                self.words[item] = NOTHING
            self._drop_half(item)
            if self.timed.pop(item, None) is not None:
                self._untimed(item)

    def _select(self, position: str, end: float) -> None:
        left = self.plan.positions.get(self.at or "")
        if left is not None and left.id != position:
            self._leave(left, end)
        for item in self.plan.positions[position].items:
            if self.timed.pop(item.id, None) is not None:
                self._untimed(item.id)
        for item_id, word in self.words.items():
            item = self.plan.items[item_id]
            at_rest = position != OFF and item.position == OFF and not item.unforeseen
            self.words[item_id] = NOTHING if at_rest else word._replace(here=False)
        self.at, self.half, self.last = position, None, Act("position")
        self.missed = None

    def _leave(self, left: Position, end: float) -> None:
        """Lamps that are lit, and not called out before, must go out from now on."""
        for item in left.items:
            if item.window is not None and self._sound(item) and not self.words[item.id].here:
                self.timed[item.id] = Timed(end, left=self.missed)

    def _command(self, name: str, said: Collection[str]) -> None:
        if name in ("complete", "abandon", "crew-change"):
            self._unanswered()
        if name == "negative" or (name == "disregard" and self.asked):
            self._denied()
        elif name in ("correction", "disregard"):
            self._take_back()
        elif name == "complete" and "confirm-position" in said:
            self._ask_place(said)
        elif name == "complete" and "confirm-incomplete" in said:
            self._ask(Told("complete", 0, 0.0, 0.0))
        elif name == "abandon":
            self._ask(Told("abandon", 0, 0.0, 0.0))
        elif name == "crew-change":
            self.asked, self.half, self.last = (), None, NO_ACT

    def _denied(self) -> None:
        for told in self.asked:
            if told.key.startswith("power:"):
                self.buses.pop(told.key.split(":")[1], None)
        self._answered({told.key for told in self.asked})
        self._settle()
        self.asked = ()

    def _take_back(self) -> None:
        act, self.last = self.last, NO_ACT
        if act.kind == "question":
            self._denied()
        elif act.kind == "half":
            self.half = None
        elif act.kind in ("item", "refused"):
            doubted = act.before.good and not self.words[act.key].good
            self.words[act.key] = NOTHING if doubted else act.before
            if act.kind == "item":
                self.before[act.key] = NOTHING  # what stood before that is not known any more
        elif act.kind == "power":
            self.buses.pop(act.key, None)
        elif act.kind == "position":
            self.at, self.maybe = None, ()
            self.timed.clear()
