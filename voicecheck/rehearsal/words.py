"""The words that a crew truly said, put to the oracle's witness.

They are taken as if every one had been heard perfectly, in order, and affirmed as soon as it was
read back; a bus only when the crew says yes to it. What was lost, overheard, misheard or half
understood counts like everything else: the record must not show as good what these words do not
make good. A yes to what the crew had not said is nothing here, and is told apart (`agreed_to`).

A call of the position where the selector is begins another visit only where it was understood.
A correction counts where the crew was told so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from typing import Final

from voicecheck.checklist.resolved import OFF, position_key, position_of
from voicecheck.engine.events import Began, Heard, KeyPressed
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

    latest: of each item, bus and of the place, what was called last and not taken back.
    agreed_to: what a yes was to that was not the crew's own. strays: when a yes was said that
    answered nothing.
    """

    def __init__(self, plan: Plan, account: Account, session: Sequence[Delivered]) -> None:
        self._plan = plan
        self._crew = account
        self.latest: dict[str, str] = {}
        self.agreed_to: set[str] = set()
        self.strays: list[float] = []
        self._heard: dict[str, list[tuple[float, Delivered]]] = {}
        for step in session:
            match step.event:
                case Heard(key, _, start) | KeyPressed(key, start) if step.heeded:
                    self._heard.setdefault(key, []).append((start, step))
        self._called: tuple[Entry, ...] = ()
        self._buses: dict[str, Heard] = {}
        began = Began(0.0, account.two_crew, account.channels)
        self.witness = Witness.fresh(plan).after(began, ())
        self._before = self.witness, self.latest
        for _, breath in groupby(account.entries, key=lambda entry: entry.breath):
            self._take(tuple(breath))

    def _take(self, breath: tuple[Entry, ...]) -> None:
        if breath[0].key.startswith("command:"):
            self._command(breath[0])
            return
        if self._lost is None or [e.key for e in self._lost] != [e.key for e in breath]:
            self._before = self.witness, dict(self.latest)
        for entry in breath:
            self._call(entry)
        self._called = breath

    @property
    def _lost(self) -> tuple[Entry, ...] | None:
        """The last words, where not all of them got through."""
        got_through = all(self._step(entry) is not None for entry in self._called)
        return None if got_through else self._called

    def _call(self, entry: Entry) -> None:
        """A call that is heard, and affirmed where that is asked for."""
        self.latest[self._about(entry.key)] = entry.key
        if position_of(entry.key) == self.witness.at is not None and self._step(entry) is None:
            return
        channel = entry.who if self._crew.channels > 1 else 0
        heard = Heard(entry.key, entry.words, entry.start, entry.end, 1.0, channel)
        self.witness = self.witness.after(heard, _ASKED)
        if entry.key.startswith("power:"):
            self._buses[entry.key] = heard
        elif self.witness.asked:
            self._yes()

    def _yes(self) -> None:
        for told in self.witness.asked:
            at = self.witness.put + SOUNDS * len(self.witness.asked) + TOLERANCE
            yes = Heard("command:affirm", "", at, at, 1.0, told.channel)
            self.witness = self.witness.after(yes, ())

    def _command(self, entry: Entry) -> None:
        step, name = self._step(entry), entry.key.removeprefix("command:")
        if name == "affirm":
            self._affirm(entry, got_through=step is not None)
        elif name in ("correction", "disregard", "negative") and step is not None:
            self._no(entry, step)
        elif name == "power-wrong":
            said = Heard(entry.key, entry.words, entry.start, entry.end, 1.0, entry.who)
            self.witness = self.witness.after(said, ())

    def _affirm(self, entry: Entry, *, got_through: bool) -> None:
        """Its own calls of buses count with that, as the crew believes; of others see `whose`."""
        own = {key for key in entry.claims if self._own(key)}
        for key in own & self._buses.keys():
            self.witness = self.witness.after(self._buses.pop(key), _ASKED)
            self._yes()
        if got_through and not entry.claims:
            self.strays.append(entry.start)
        elif got_through and own != set(entry.claims):
            self.agreed_to.update(set(entry.claims) - own)
            self.agreed_to.update(call.key for call in self._lost or ())

    def _no(self, entry: Entry, step: Delivered) -> None:
        """A call that was lost and is taken back has moved and made void nothing."""
        at = self.witness.at
        if step.said & _TAKEN_BACK:
            if self._lost:
                self.witness, self.latest = self._before
            else:
                event = Heard(entry.key, entry.words, entry.start, entry.end, 1.0, entry.who)
                self.latest.pop(self.witness.last.key, None)
                self.witness = self.witness.after(event, step.said)
            self._called = ()
        elif f"stay:{at}" in entry.claims or (at == OFF and position_key(OFF) in entry.claims):
            self.witness = replace(self.witness, at=None)

    def _own(self, key: str) -> bool:
        """Whether the crew said that itself, and nothing else about it since."""
        return key == f"stay:{self.witness.at}" or self.latest.get(self._about(key)) == key

    def _about(self, key: str) -> str:
        spoken = self._plan.readings.get(key)
        if spoken is not None:
            return spoken.item.id
        return "place" if position_of(key) is not None else key.rpartition(":")[0]

    def _step(self, entry: Entry) -> Delivered | None:
        """The event that the engine was given of these words, if they got through as they are."""
        near = (s for at, s in self._heard.get(entry.key, ()) if abs(at - entry.start) < NEAR)
        return next(near, None)
