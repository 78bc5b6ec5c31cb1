"""The words that a crew truly said, put to the oracle's witness.

They are taken as if every one had been heard perfectly, in order, and affirmed as soon as it was
read back. What was lost, overheard, misheard or half understood counts like everything else: the
record must not show as good what these words do not make good.

A repeated call of the position where the selector is moves nothing. A correction counts where
the crew was told so. A yes to what the crew had not said is *careless*. Taken at its word
(`agreeing`) it puts what was read back in place of what was said; otherwise it is nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from typing import Final

from voicecheck.checklist.resolved import OFF, position_key, position_of
from voicecheck.engine.events import Began, Heard, KeyPressed, Unclear
from voicecheck.oracle.heard import Delivered
from voicecheck.oracle.lamps import TOLERANCE
from voicecheck.oracle.plan import Plan
from voicecheck.oracle.witnessing import SOUNDS, Witness
from voicecheck.rehearsal.account import Account, Entry

NEAR: Final = 0.5
"""Seconds within which an event begins with the words that it is made of."""
_ASKED: Final = {"confirm", "confirm-airframe", "confirm-change", "confirm-retest"}
"""What every call is taken to be asked about that wants a yes."""
_TAKEN_BACK: Final = {"corrected", "disregarded"}


class Words:
    """One crew's words. witness: after the last of them.

    latest: of each item, bus and of the place, what was called last and not taken back. bad_in:
    items that were called bad, and in which visit; not those called good in a later one.
    agreed_to: what a careless yes was to.
    """

    def __init__(
        self, plan: Plan, account: Account, session: Sequence[Delivered], *, agreeing: bool
    ) -> None:
        self._plan = plan
        self._agreeing = agreeing
        self._crew = account
        self.latest: dict[str, str] = {}
        self.bad_in: dict[str, int] = {}
        self.agreed_to: set[str] = set()
        self._visit = 0
        self._heard: dict[str, list[tuple[float, Delivered]]] = {}
        self._guesses: list[Unclear] = []
        for step in session:
            match step.event:
                case Heard(key, _, start) | KeyPressed(key, start) if step.heeded:
                    self._heard.setdefault(key, []).append((start, step))
                case Unclear():
                    self._guesses.append(step.event)
        self._lost: tuple[str, ...] = ()
        self._called: tuple[str, ...] = ()
        self._open: set[str] = set()
        began = Began(0.0, account.two_crew, account.channels)
        self.witness = Witness.fresh(plan).after(began, ())
        self._before = self.witness, self.latest
        for _, breath in groupby(account.entries, key=lambda entry: entry.breath):
            self._take(tuple(breath))

    def _take(self, breath: tuple[Entry, ...]) -> None:
        if breath[0].key.startswith("command:"):
            self._command(breath[0])
            return
        keys = tuple(entry.key for entry in breath)
        if not (keys == self._lost and (self._bad_news(keys) or all(map(position_of, keys)))):
            # A yes to something else will give up what was lost, and every repeat of bad news and
            # of a position.
            self._before = self.witness, dict(self.latest)
        for entry in breath:
            channel = entry.who if self._crew.channels > 1 else 0
            heard = Heard(entry.key, entry.words, entry.start, entry.end, 1.0, channel)
            self._call(heard, got_through=self._step(entry) is not None)
        self._called = keys
        self._lost = () if all(map(self._step, breath)) else keys
        self._open.update(key for key in keys if key.startswith("power:"))

    def _bad_news(self, keys: tuple[str, ...]) -> bool:
        spoken = [self._plan.readings.get(key) for key in keys]
        return any(reading is not None and not reading.good for reading in spoken)

    def _call(self, event: Heard, *, got_through: bool) -> None:
        """A call that is heard, and affirmed where that is asked for."""
        key, about = event.callout, self._about(event.callout)
        self.latest[about] = key
        if position_of(key) == self.witness.at is not None:
            return
        self.witness = self.witness.after(event, _ASKED)
        for told in self.witness.asked:
            at = self.witness.put + SOUNDS * len(self.witness.asked) + TOLERANCE
            yes = Heard("command:affirm", "", at, at, 1.0, told.channel)
            self.witness = self.witness.after(yes, ())
        self._visit += self.witness.last.kind == "position"
        if key in self._plan.readings and not self._plan.readings[key].good:
            self.bad_in[about] = self._visit
        elif got_through and (word := self.witness.words.get(about)) and word.good and word.here:
            in_turn = self._plan.items[about].read_back and self._crew.two_crew
            if self.bad_in.get(about, self._visit) < self._visit and not in_turn:
                del self.bad_in[about]

    def _command(self, entry: Entry) -> None:
        step = self._step(entry)
        if step is None:
            return
        name = entry.key.removeprefix("command:")
        event = Heard(entry.key, entry.words, entry.start, entry.end, 1.0, entry.who)
        if name == "affirm" and entry.claims:
            self._agree(entry)
        elif name == "negative" and not step.said & _TAKEN_BACK:
            self._deny(entry)
        elif name in ("complete", "abandon"):
            self.witness = self.witness.after(event, step.said)
        elif name in ("correction", "disregard", "negative") and step.said & _TAKEN_BACK:
            if self._lost:  # what nobody heard and is taken back was never said to anybody
                self.witness, self.latest = self._before
                self._lost = ()
                return
            self.latest.pop(self.witness.last.key, None)
            self.witness = self.witness.after(event, step.said)

    def _deny(self, no: Entry) -> None:
        """A bus that it called and then says no to is unknown, and has made nothing void.

        After a no to where the selector is, its next call is of another visit.
        """
        at = self.witness.at
        if f"stay:{at}" in no.claims or (at == OFF and position_key(OFF) in no.claims):
            self.witness = replace(self.witness, at=None)
        if self._called and set(self._called) <= self._open & set(no.claims):
            self.witness, self.latest = self._before
            for key in (*self._called, no.key):
                self.witness = self.witness.after(Heard(key, "", no.start, no.end, 1.0), _ASKED)
        self._open -= set(no.claims)

    def _agree(self, yes: Entry) -> None:
        lost, self._lost = self._lost, ()
        own = set(yes.claims) <= {*lost, *self._open}
        self._open -= set(yes.claims)
        if own or not self._agreeing:
            return
        if lost and not set(lost) & set(yes.claims):
            self.witness, self.latest = self._before
        for key in yes.claims:
            guesses = (g for g in reversed(self._guesses) if g.end <= yes.start and key in g.guess)
            guess = next(guesses, yes)
            start, end = guess.start, guess.end
            channel = yes.who if self._crew.channels > 1 else 0
            self._call(Heard(key, "", start, end, 1.0, channel), got_through=True)
        self.agreed_to.update(yes.claims)

    def _about(self, key: str) -> str:
        spoken = self._plan.readings.get(key)
        if spoken is not None:
            return spoken.item.id
        return "place" if position_of(key) is not None else key.rpartition(":")[0]

    def _step(self, entry: Entry) -> Delivered | None:
        """The event that the engine was given of these words, if they got through as they are."""
        near = (s for at, s in self._heard.get(entry.key, ()) if abs(at - entry.start) < NEAR)
        return next(near, None)
