"""How one event changes a witness: the rules that witness.py states."""

from __future__ import annotations

from collections.abc import Collection, Container
from dataclasses import replace
from math import inf
from typing import Any, Final, Self

from voicecheck.checklist.resolved import OFF, position_key, position_of
from voicecheck.engine.events import (
    Began,
    Ended,
    Event,
    Heard,
    KeyPressed,
    Lost,
    Overheard,
    Passed,
    Prompted,
    Restored,
    Unclear,
    time_of,
)
from voicecheck.oracle.places import CONFIRM, STAY, Places
from voicecheck.oracle.plan import DARK, Plan, Spoken
from voicecheck.oracle.witness import NO_ACT, NOTHING, Act, Told, Word

TOUCH: Final = -1
"""The channel of what is entered by hand."""
SOUNDS: Final = 0.5
"""Seconds that a question sounds at the least before it can be answered, for each call in it."""
PATIENCE: Final = 20.0
"""Seconds in which it can be answered."""
ASKS: Final = frozenset(
    f"confirm{what}"
    for what in ("", "-change", "-position", "-incomplete", "-airframe", "-findings", "-retest")
) | {"ask-reason"}
"""Prompts that put a question."""
_END: Final = frozenset({"confirm-incomplete", "confirm-findings"})
"""What is asked after the list of what was found and what is not tested."""
_CHANGE: Final = CONFIRM | {"confirm-change"}
_GOES_ON: Final = frozenset({"resuming", "after-gap"})
"""What ends a hold."""
_TIMEKEEPERS: Final = ("microphone", "session")
"""Parts without which nothing can be heard in time."""


class Witness(Places):
    """Left as it is by `after`, which returns the next one."""

    __slots__ = ()

    @classmethod
    def fresh(cls, plan: Plan) -> Self:
        """Before anything has happened."""
        return cls(plan, dict.fromkeys(plan.items, NOTHING))

    def after(self, event: Event, said: Collection[str]) -> Self:
        """The witness after an event that was accepted. said: ids of the prompts it brought."""
        own = ("words", "buses", "timed", "before", "found", "called")
        copies: dict[str, Any] = {name: dict(getattr(self, name)) for name in own}
        heard = replace(self, **copies)
        heard._take(event, said)
        return heard

    def _take(self, event: Event, said: Collection[str]) -> None:
        self.now = max(self.now, time_of(event))
        match event:
            case Began(_, second, channels):
                self.second, self.channels = second, channels
            case Ended():
                self._unanswered()
                self._untime_all()
            case Prompted(start, end) if self.asked and start < self.put < end:
                self.put = end  # the question came only after that prompt
            case Passed():
                self._time(said)
            case Lost(part, at):
                self._lost(part, at, said)
            case _:
                self._spoke(event, said)
        if self.asked and not ASKS.isdisjoint(said):
            self.put = self.now

    def _spoke(self, event: Event, said: Collection[str]) -> None:
        match event:
            case Heard(key, _, start, end, _, channel):
                self._called(Told(key, channel, start, end), said)
            case KeyPressed(key, at):
                self._called(Told(key, TOUCH, at, at), said)
            case Unclear(start, end, guess, channel):
                self._not_understood(start, end)
                self._guessed(tuple(Told(key, channel, start, end) for key in guess), said)
            case Overheard(start, end):
                self._not_understood(start, end)
            case Restored() if not _GOES_ON.isdisjoint(said):
                self._goes_on(said)

    def _lost(self, part: str, at: float, said: Collection[str]) -> None:
        if part == "session":
            self.airframe = False
            self.buses.clear()
        if part in _TIMEKEEPERS:
            self._not_understood(at, at)
            self._untime_all()
            if "holding" in said or self.held_from is not None:
                self._holds(cut=True)

    def _guessed(self, guess: tuple[Told, ...], said: Collection[str]) -> None:
        self._may_have_moved(guess)
        for told in guess:
            spoken = self.plan.readings.get(told.key)
            if told.key.startswith("power:"):
                self._half_heard_bus(told)
            elif spoken is not None and not spoken.good:
                self._drop_half(spoken.item.id)
        if guess and not self.asked and CONFIRM & set(said):
            self._ask(*guess)
        else:
            asked = {open_one.key for open_one in self.asked}
            self._doubt(told.key for told in guess if told.key not in asked)
        self._ask_place(said)

    def _half_heard_bus(self, told: Told) -> None:
        """Nobody knows what it is, so nothing that was called since and needs it has cause."""
        bus = told.key.split(":")[1]
        self.buses.pop(bus, None)
        for item, needs in self.plan.needs.items():
            if bus not in needs:
                continue
            self._void_found(item, told)
            if self.words[item].start >= told.start:
                self.words[item] = NOTHING

    def _called(self, call: Told, said: Collection[str]) -> None:
        if call.key == "command:affirm":
            if self._answers(call):
                self._yes(call, said)
        elif call.key.startswith("command:"):
            self._command(call.key.removeprefix("command:"), said)
        else:
            self._act(call, said, affirmed=False)

    def _yes(self, call: Told, said: Collection[str]) -> None:
        asked, self.asked = self.asked, ()
        open_keys = self._of_place()
        places = (told.start for told in asked if told.key in open_keys)
        keys = {told.key for told in asked}
        # That it is still there answers a guess that it went there, too.
        keys |= {position_key(key[len(STAY) :]) for key in keys if key.startswith(STAY)}
        self._answered(keys, max(places, default=-inf))
        self.airframe |= any(told.key.startswith("power:") for told in asked)
        done = []
        for told in asked:
            self._act(told._replace(channel=call.channel), said, affirmed=True)
            done.append(self.last)
        if len(done) > 1:
            self.last = Act("several", acts=tuple(done))
        if any(told.key == "complete" for told in asked):
            self._ask_end(said)

    def _answers(self, call: Told) -> bool:
        """A yes begun before its question had sounded, or long after, is none."""
        least = 0.0 if call.channel == TOUCH else SOUNDS * len(self.asked)
        return not self.asked or least <= call.start - self.put <= least + PATIENCE

    def _act(self, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        key = call.key
        spoken, place = self.plan.readings.get(key), position_of(key)
        if not affirmed:
            self._unanswered()
        if key.startswith("power:"):
            self._power(call, said, affirmed=affirmed)
        elif spoken is not None:
            self._keep_asked(self._of_place())
            self._item(spoken, call, said, affirmed=affirmed)
        elif place is not None and place in self.plan.positions:
            self._keep_asked()
            self._select(place, call.start, call.end)
            self._answered((), call.start)
            self._settle()
        elif key.startswith(STAY):
            self.gap, self.missed, self.last = False, None, Act("position")
        elif key.startswith("disregard:"):
            self._keep_asked(self._of_place())
            self._disregard(key.removeprefix("disregard:"))
        elif key in self.plan.others:
            self._keep_asked(self._of_place())
            self.last = NO_ACT

    def _keep_asked(self, keys: Container[str] = ()) -> None:
        """Any call but of power means that the question about an item was not answered."""
        self.asked = tuple(t for t in self.asked if t.key.startswith("power:") or t.key in keys)

    def _item(self, spoken: Spoken, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        timed = spoken.item.id in self.timed
        if self.gap and self.at == spoken.item.position and not timed:
            self._thrown(spoken.item)
            bad = spoken.good == (spoken.item.window is not None)
            self._of_unknown_place(spoken, said, bad=bad)
        elif spoken.item.window is not None:
            self._lamp(spoken, spoken.item.window, call, said, affirmed=affirmed)
        elif self.at == spoken.item.position:
            if any(told.start < call.start for told in self.maybe):
                self._thrown(spoken.item)
                self._of_unknown_place(spoken, said, bad=not spoken.good)
                return
            self._thrown(spoken.item)
            if spoken.item.unforeseen:
                self._unforeseen(spoken, call)
            elif spoken.good:
                self._good(spoken, call, said, affirmed=affirmed)
            else:
                self._bad(spoken, call)
            if self._shows_place(spoken, affirmed=affirmed):
                self.missed = None

    def _by_other(self, item: str, channel: int) -> bool:
        """Whether this is the second half of a read-back."""
        if self.half is None or self.half[0] != item or TOUCH in (self.half[1], channel):
            return False
        return self.channels == 1 or self.half[1] != channel

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
        if not self._sound(spoken.item) or self._running(spoken, call):
            self.last = NO_ACT
        elif (not had_yes and self._doubtful(spoken, call.key)) or (
            not affirmed and self._perhaps_elsewhere(spoken, call.key)
        ):
            self._ask(*[call] if _CHANGE & set(said) else ())
        elif self._again(spoken, call.key):
            # Taking it back takes back what it repeats.
            found = self.found.get(item, ())
            self.last = Act("item", item, self.before.get(item, NOTHING), found)
        else:
            self._count(spoken, call, by_other=by_other)

    def _perhaps_elsewhere(self, spoken: Spoken, key: str) -> bool:
        """Whether words were missed that may have named another position with such a call."""
        return self.missed is not None and self._shared(spoken) and not self._again(spoken, key)

    def _count(self, spoken: Spoken, call: Told, *, by_other: bool) -> None:
        """A good call is the first half of a read-back, or gives cause."""
        if spoken.item.read_back and self.second and not by_other:
            waits = self.half is not None and self.half[0] == spoken.item.id
            if not (waits and call.channel == TOUCH):
                own = call.channel if self.channels > 1 or call.channel == TOUCH else 0
                self.half = (spoken.item.id, own)
            self.last = Act("half")
            return
        if by_other:
            self.half = None
        self._put(spoken.item.id, Word(good=True, here=True, key=call.key, start=call.start))

    def _power(self, call: Told, said: Collection[str], *, affirmed: bool) -> None:
        _, bus, state = call.key.split(":")
        if affirmed:
            self.buses[bus], self.called[bus] = state, call.end
            self.last = Act("power", bus)
            self._unpowered(bus, state, call)
            return
        call = self._seen(call)
        kept = (told for told in self.asked if told.key.startswith("power:"))
        others = [told for told in kept if not told.key.startswith(f"power:{bus}:")]
        places = [told for told in self.asked if told.key.startswith(STAY)]
        self._ask(*others, *[call] if CONFIRM & set(said) else (), *places)
        self.buses.pop(bus, None)

    def _both(self, item: str, bus: str) -> bool:
        """Whether its position wants the bus on and off."""
        there = self.plan.positions[self.plan.items[item].position].items
        return {"on", "off"} <= {self.plan.needs[other.id].get(bus) for other in there}

    def _unpowered(self, bus: str, state: str, call: Told) -> None:
        """What needs the bus in another state has no cause where that was called, nor since."""
        for item, needs in self.plan.needs.items():
            if needs.get(bus) in (None, state):
                continue
            said = call._replace(here=frozenset()) if self._both(item, bus) else call
            if self._of(said, item, self.words[item].start):
                self.words[item] = NOTHING
            self._void_found(item, said)
            self._drop_half(item)
            if self.timed.pop(item, None) is not None:
                self._untimed(item)

    @staticmethod
    def _of(told: Told, item: str, start: float) -> bool:
        """Whether something was called since a bus was, or in the same visit."""
        return start >= told.start or (item, start) in (told.here or ())

    def _void_found(self, item: str, told: Told) -> None:
        found = self.found.get(item, ())
        self.found[item] = tuple(f for f in found if not self._of(told, item, f.start))

    def _select(self, position: str, start: float, end: float) -> None:
        left = self.plan.positions.get(self.at or "")
        if left is not None and left.id != position:
            self._leave(left, start, end)
        for item in self.plan.positions[position].items:
            if self.timed.pop(item.id, None) is not None:
                self._untimed(item.id)
        for item_id, word in self.words.items():
            item = self.plan.items[item_id]
            at_rest = position != OFF and item.position == OFF and not item.unforeseen
            self.words[item_id] = NOTHING if at_rest else word._replace(here=False)
        for item_id, found in self.found.items():
            self.found[item_id] = tuple(f._replace(here=False) for f in found)
        self.at, self.half, self.last = position, None, Act("position")
        self.missed, self.gap = None, False

    def _command(self, name: str, said: Collection[str]) -> None:
        if name in ("complete", "abandon", "crew-change"):
            self._unanswered()
        if name in ("negative", "disregard") and self.asked:
            self._denied()
        elif name in ("negative", "correction", "disregard"):
            act, self.last = self.last, NO_ACT
            self._take_back(act)
        elif name == "complete":
            self._ask_end(said)
        elif name == "abandon":
            self._ask(Told("abandon", 0, 0.0, 0.0))
        elif name in ("stand-by", "resume"):
            self._holds_or_goes_on(said)
        elif name == "power-wrong":
            self._unanswered()
            self._power_wrong()
        elif name == "crew-change":
            self.asked, self.half, self.last = (), None, NO_ACT

    def _holds_or_goes_on(self, said: Collection[str]) -> None:
        if "holding" in said:
            self._holds(cut=False)
        elif not _GOES_ON.isdisjoint(said):
            self._goes_on(said)

    def _ask_end(self, said: Collection[str]) -> None:
        """The end may ask first where the selector is, and then for a yes to its list."""
        self._ask_place(said)
        if _END & set(said):
            self._ask(Told("complete", 0, 0.0, 0.0))

    def _denied(self) -> None:
        for told in self.asked:
            if told.key.startswith("power:"):
                self.buses.pop(told.key.split(":")[1], None)
        if any(told.key.startswith(STAY) for told in self.asked):
            self._nowhere()
        self._answered({told.key for told in self.asked})
        self._settle()
        self.asked = ()

    def _take_back(self, act: Act) -> None:
        for done in reversed(act.acts):
            self._take_back(done)
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
            self._nowhere()
            self._untime_all()
