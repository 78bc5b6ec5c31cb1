"""How one event changes a witness: the rules that witness.py states."""

from __future__ import annotations

from collections.abc import Collection, Container, Iterable
from dataclasses import replace
from math import inf
from typing import Final, Self

from voicecheck.checklist.resolved import OFF, position_of
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
from voicecheck.oracle.lamps import Lamps
from voicecheck.oracle.plan import DARK, Plan, Spoken
from voicecheck.oracle.witness import NO_ACT, NOTHING, Act, Told, Word

_CONFIRM: Final = frozenset({"confirm", "confirm-airframe"})
_END: Final = frozenset({"confirm-incomplete", "confirm-findings"})
"""What is asked after the list of what was found and what is not tested."""


class Witness(Lamps):
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
        heard = replace(
            self, words=words, buses=buses, timed=timed, before=before, found=dict(self.found)
        )
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
                self._lost(part, at)
            case _:
                pass

    def _lost(self, part: str, at: float) -> None:
        if part == "session":
            self.airframe = False
            self.buses.clear()
        if part in ("microphone", "session"):
            self._not_understood(at, at)
            for item in self.timed:
                self._untimed(item)
            self.timed.clear()

    def _guessed(self, guess: tuple[Told, ...], said: Collection[str]) -> None:
        self._may_have_moved(guess)
        if guess and not self.asked and _CONFIRM & set(said):
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

    def _called(self, call: Told, said: Collection[str]) -> None:
        if call.key == "command:affirm":
            asked, self.asked = self.asked, ()
            open_keys = {told.key for told in self.maybe}
            places = (told.start for told in asked if told.key in open_keys)
            self._answered({told.key for told in asked}, max(places, default=-inf))
            self.airframe |= any(told.key.startswith("power:") for told in asked)
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
            self._lamp(spoken, spoken.item.window, call, said, affirmed=affirmed)
        elif self.at == spoken.item.position:
            if any(told.start < call.start for told in self.maybe):
                self._of_unknown_place(spoken, said)
                return
            if spoken.good:
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

    def _again(self, spoken: Spoken, key: str) -> bool:
        """A dark lamp named again is one more call; any other call made again is the same call."""
        word = self.words[spoken.item.id]
        same = word.here and word.key == key and spoken.kind != DARK
        return same and (word.good or word.bad)

    def _by_other(self, item: str, channel: int) -> bool:
        """Whether this is the second half of a read-back."""
        half = self.half
        return half is not None and half[0] == item and (self.channels == 1 or half[1] != channel)

    def _drop_half(self, item: str) -> None:
        if self.half is not None and self.half[0] == item:
            self.half = None

    def _bad(self, spoken: Spoken, call: Told) -> None:
        item, word = spoken.item.id, self.words[spoken.item.id]
        again, by_other = self._again(spoken, call.key), self._by_other(item, call.channel)
        self._drop_half(item)
        if not self._sound(spoken.item):
            self.words[item] = word._replace(good=False)
            self.last = Act("refused", item, word)
        elif by_other and spoken.kind != DARK and not again:
            # The two differ: neither call is taken; open again, unless bad news stood before.
            self.last = Act("differed", item, found=self.found.get(item, ()))
            self._add_found(item, call.start)
            if not (word.bad and word.here):
                self._untimed(item)
        elif again:
            self.last = NO_ACT  # the finding was called before, and stands
        else:
            self._put(item, Word(False, True, True, call.key, call.start, found=True))

    def _good(self, spoken: Spoken, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        item = spoken.item.id
        by_other = self._by_other(item, call.channel)
        had_yes = affirmed or (by_other and self.channels > 1)
        if not self._sound(spoken.item):
            self.last = NO_ACT
        elif self._found_before(item) and not had_yes:
            self._ask(*[call] if "confirm-change" in said else ())
        elif self._again(spoken, call.key):
            # Taking it back takes back what it repeats.
            found = self.found.get(item, ())
            self.last = Act("item", item, self.before.get(item, NOTHING), found)
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

    def _ask_place(self, said: Collection[str]) -> None:
        if "confirm-position" in said and self.maybe:
            self._ask(self.maybe[-1])

    def _power(self, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        _, bus, state = call.key.split(":")
        if affirmed:
            self.buses[bus] = state
            self.last = Act("power", bus)
            self._unpowered(bus, state, call.start)
            return
        kept = (told for told in self.asked if told.key.startswith("power:"))
        others = [told for told in kept if not told.key.startswith(f"power:{bus}:")]
        self._ask(*others, *[call] if _CONFIRM & set(said) else ())
        self.buses.pop(bus, None)

    def _unpowered(self, bus: str, state: str, since: float) -> None:
        """What needs the bus in another state has no cause here, nor where called `since`."""
        position = self.plan.positions.get(self.at or "")
        here = {item.id for item in position.items} if position is not None else set()
        both = {"on", "off"} <= {self.plan.needs[item].get(bus) for item in here}
        for item, needs in self.plan.needs.items():
            if needs.get(bus) in (None, state):
                continue
            word, at_hand = self.words[item], item in here and not both
            if word.start >= since or (at_hand and word.here):
                self.words[item] = NOTHING
                self._void_found(item, since, at_hand=at_hand)
            self._drop_half(item)
            if self.timed.pop(item, None) is not None:
                self._untimed(item)

    def _void_found(self, item: str, since: float, *, at_hand: bool) -> None:
        found = self.found.get(item, ())
        self.found[item] = tuple(f for f in found if f.start < since and not (at_hand and f.here))

    def _select(self, position: str, end: float) -> None:
        left = self.plan.positions.get(self.at or "")
        if left is not None and left.id != position:
            self._leave(left, end)
        for item in self.plan.positions[position].items:
            if self.timed.pop(item.id, None) is not None:
                self._untimed(item.id)
        for item_id, word in self.words.items():
            at_rest = position != OFF and self.plan.items[item_id].position == OFF
            self.words[item_id] = NOTHING if at_rest else word._replace(here=False)
        for item_id, found in self.found.items():
            self.found[item_id] = tuple(f._replace(here=False) for f in found)
        self.at, self.half, self.last = position, None, Act("position")
        self.missed = None

    def _command(self, name: str, said: Collection[str]) -> None:
        if name in ("complete", "abandon", "crew-change"):
            self._unanswered()
        if name == "negative" or (name == "disregard" and self.asked):
            self._denied()
        elif name in ("correction", "disregard"):
            self._take_back()
        elif name == "complete" and "confirm-position" in said:
            self._ask_place(said)
        elif name == "complete" and _END & set(said):
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
        elif act.kind == "differed":
            self.found[act.key] = act.found
        elif act.kind in ("item", "refused"):
            doubted = act.before.good and not self.words[act.key].good
            self.words[act.key] = NOTHING if doubted else act.before
            if act.kind == "item":
                self.found[act.key] = act.found
                self.before[act.key] = NOTHING  # what stood before that is not known any more
        elif act.kind == "power":
            self.buses.pop(act.key, None)
        elif act.kind == "position":
            self.at, self.maybe = None, ()
            self.timed.clear()
