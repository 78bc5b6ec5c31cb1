"""What a witness knows of where the selector is, and what a gap leaves of that (witness.py)."""

from __future__ import annotations

from collections.abc import Collection, Container, Iterable, Iterator
from math import inf
from typing import Final

from voicecheck.checklist.resolved import position_of
from voicecheck.oracle.lamps import Lamps
from voicecheck.oracle.plan import Spoken
from voicecheck.oracle.witness import NO_ACT, NOTHING, Act, Told

GAP: Final = 60.0
"""Seconds of a hold after which nobody knows power or position any more."""
STAY: Final = "stay:"
"""Before a position's id: the key of the question whether the selector is still there."""
CONFIRM: Final = frozenset({"confirm", "confirm-airframe"})
"""Prompts that ask about calls."""


class Places(Lamps):
    """The part of a witness that knows the place; witnessing.py has the events."""

    __slots__ = ()

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

    def _of_place(self) -> set[str]:
        """Calls that say where the selector is, of which the crew has not said yes or no."""
        here = {STAY + self.at} if self.gap and self.at is not None else set()
        return here | {told.key for told in self.maybe}

    def _of_unknown_place(self, spoken: Spoken, said: Collection[str], *, bad: bool) -> None:
        """The selector may be elsewhere: nothing is written down, and bad news still counts."""
        item = spoken.item.id
        self.last = NO_ACT
        if bad:
            self._drop_half(item)
            if self.words[item].good:
                self.words[item] = NOTHING
        if "confirm-position" not in said:
            self.asked = ()
        elif self.maybe:
            self.asked = self.maybe[-1:]
        else:
            self.asked = self._with_place(self.asked)

    def _with_place(self, asked: tuple[Told, ...]) -> tuple[Told, ...]:
        """An open question about power, and about the place as well."""
        if self.at is None or any(told.key in self._of_place() for told in asked):
            return asked
        return (*(t for t in asked if t.key.startswith("power:")), self._now(STAY + self.at))

    def _now(self, key: str) -> Told:
        return self._seen(Told(key, 0, self.now, self.now))

    def _ask_place(self, said: Collection[str]) -> None:
        if "confirm-position" in said and self.maybe:
            self._ask(self.maybe[-1])
        elif "confirm-position" in said:
            self.asked, self.last = self._with_place(self.asked), Act("question")

    def _nowhere(self) -> None:
        self.at, self.maybe, self.gap = None, (), False

    def _disregard(self, position: str) -> None:
        """Nothing called there has cause; what was found there stays found."""
        if self.at == position:
            self._untime_all()
            self._nowhere()
        for item in self.plan.items.values():
            if item.position == position:
                self._drop_half(item.id)
                if self.timed.pop(item.id, None) is not None:
                    self._untimed(item.id)
                self.words[item.id] = NOTHING
        self.last = NO_ACT

    def _power_wrong(self) -> None:
        """No bus was as it was called."""
        self.buses.clear()
        for item, needs in self.plan.needs.items():
            if needs:
                self.words[item], self.found[item] = NOTHING, ()
        self.asked, self.half, self.last = (), None, NO_ACT

    # A hold, and what was known before it.

    def _holds(self, *, cut: bool) -> None:
        if cut or self.held_from is None:
            self.held_from = self.now
        self.cut |= cut

    def _goes_on(self, said: Collection[str]) -> None:
        began, cut = self.held_from, self.cut
        self.held_from, self.cut = None, False
        if began is not None and (cut or self.now - began > GAP):
            self._forget(began, said)

    def _forget(self, began: float, said: Collection[str]) -> None:
        since = max(began, self.now - GAP)
        self._unanswered()
        self._not_understood(began, began)
        asked = [*self._called_before(since), *self._known_before(since)]
        if self.at is not None and self.airframe:
            self.gap = True
            asked.append(self._now(STAY + self.at))
        elif self.at is not None:
            self._nowhere()
        self.asked = ()
        if asked and CONFIRM & set(said):
            self._ask(*asked)

    def _called_before(self, since: float) -> Iterator[Told]:
        """Calls of buses that still wait for a yes."""
        for told in self.asked:
            if told.key.startswith("power:") and told.start >= since:
                yield told
            elif told.key.startswith("power:") and self.airframe:
                yield self._now(told.key)

    def _known_before(self, since: float) -> Iterator[Told]:
        """Buses that were known, and are not any more."""
        for bus, state in list(self.buses.items()):
            if self.called.get(bus, -inf) < since:
                del self.buses[bus]
                yield self._now(f"power:{bus}:{state}")

    def _unanswered(self) -> None:
        """The crew goes on without a yes or no to what was asked."""
        self._doubt(told.key for told in self.asked)

    def _doubt(self, keys: Iterable[str]) -> None:
        """Bad news that may have been called: what was called good is not good any more."""
        for key in keys:
            spoken = self.plan.readings.get(key)
            if spoken is not None and not spoken.good and self.words[spoken.item.id].good:
                self.words[spoken.item.id] = NOTHING

    def _shows_place(self, spoken: Spoken, *, affirmed: bool) -> bool:
        """Whether a call shows that the selector is still there."""
        if self.maybe or self.gap:
            return False
        return affirmed or not self._shared(spoken)

    def _shared(self, spoken: Spoken) -> bool:
        """Whether its words are called at another position, too."""
        return not self.plan.shared.isdisjoint(spoken.reading.phrases)
