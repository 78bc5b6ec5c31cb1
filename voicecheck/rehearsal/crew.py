"""A simulated crew of one or two: it turns, looks, listens, speaks, and errs at given rates.

The crew knows the checklist and the words, sees the panel of the simulated aircraft and hears
prompts. It never sees the engine. Whoever runs the loop asks `next` what comes, tells `spoke`
when words were said, and passes on what was heard.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, position_key
from voicecheck.rehearsal import answers, mishaps, patience, plan
from voicecheck.rehearsal.account import Account, Entry, Scene, TimedLamp
from voicecheck.rehearsal.intents import (
    Chat,
    Command,
    Disregard,
    Go,
    Intent,
    Look,
    NameDark,
    Pause,
    Power,
    Reason,
    Repeat,
    Turn,
)
from voicecheck.rehearsal.looking import Looking
from voicecheck.rehearsal.manners import Manners
from voicecheck.rehearsal.memory import Memory, Watched
from voicecheck.world.acts import Utterance, Wait
from voicecheck.world.aircraft import SETTLED, Aircraft
from voicecheck.world.wordings import Wordings

DARK_AFTER: Final = 0.09
"""Seconds after which a lamp that is no longer driven looks dark."""
LONG_WAIT: Final = 20.0
"""Seconds that the crew looks at a lamp before it thinks again."""
STILL_LIT: Final = 30.0
"""Seconds past its window after which the crew calls, unasked, that a lamp stays lit."""
TALK: Final = (
    "fuel truck is here",
    "do you want a coffee",
    "two minutes",
    "they are waiting",
    "close the door please",
    "how long will it take",
)


class Crew(Looking):
    """One session's crew.

    second: two people, the other one reads marked items back; channels: 2 when each has a
    microphone.
    """

    def __init__(
        self,
        checklist: Checklist,
        aircraft: Aircraft,
        manners: Manners,
        chance: random.Random,
        *,
        second: bool = False,
        channels: int = 1,
    ) -> None:
        self.checklist = checklist
        self.aircraft = aircraft
        self.manners = manners
        self.chance = chance
        self.account = Account(second, channels)
        order = [position.id for position in checklist.positions]
        wordings = Wordings(checklist)
        self.memory = Memory(checklist, wordings, order, manners, chance, self.account)
        self.account.elsewhere = self.does("wrong_airframe")
        if self.does("wrong_order"):
            chance.shuffle(order)
        self._answered = True
        self._breath = 0

    @property
    def is_over(self) -> bool:
        """Whether the crew has nothing more to say."""
        return self.memory.over

    # What comes next.

    def next(self, now: float) -> Utterance | Wait:
        """What the crew does now."""
        memory = self.memory
        memory.now = now
        while True:
            patience.lose_patience(memory, now)
            if self.is_over:
                return Wait(now)
            if now < memory.away:
                return Wait(memory.away)
            watched = self._watch(now)
            if watched is not None:
                return watched
            step = self._realise(self._intent(), now)
            if step is not None:
                return self._at_once(step)

    def _intent(self) -> Intent:
        memory = self.memory
        if memory.agenda:
            return memory.agenda.popleft()
        happens = None if memory.held else mishaps.mishap(memory, self.aircraft)
        return happens or plan.plan(memory)

    def _at_once(self, said: Utterance | Wait) -> Utterance | Wait:
        """The other may talk at the same time: a yes, or the same."""
        if isinstance(said, Wait) or not said.parts or not self.account.two_crew:
            return said
        if not self.does("at_once"):
            return said
        key = self.chance.choice(("command:affirm", said.keys[0]))
        words = self.memory.wordings.any(key, self.chance)
        other = Utterance(1 - said.who, ((key, words),), words, 0.0)
        return replace(said, over=other)

    def _watch(self, now: float) -> Utterance | Wait | None:
        """Look after a lamp that is about to go out."""
        for watched in self.memory.watching.values():
            due = self.aircraft.goes_dark_at(watched.item.id, now)
            window = watched.item.window
            assert window is not None
            if due is None:
                return self._out(watched, now)
            if self.memory.agenda and isinstance(self.memory.agenda[0], Look):
                asked = self.memory.agenda[0].item == watched.item.id
                if asked:
                    continue
            if now > watched.left + window.upper + STILL_LIT:
                return self._still_lit(watched.item, now)
            near = now > watched.left + window.lower - 3.0
            if near and not self.does("distracted"):
                if self.memory.agenda and now > watched.left + window.upper + 1.0:
                    continue  # it stays lit: answer what is asked
                return Wait(min(due + DARK_AFTER, now + LONG_WAIT))
        return None

    def _out(self, watched: Watched, now: float) -> Utterance:
        """The lamp is out: say so within a reaction of seeing it, or too late."""
        del self.memory.watching[watched.item.id]
        lamp = next(t for t in reversed(self.account.timed) if t.item == watched.item.id)
        timing = self.checklist.timing
        reaction = timing.reaction + self.chance.uniform(-0.6, 0.6) * timing.reaction_spread
        start = lamp.out + DARK_AFTER + reaction
        slow = now > start + 0.05
        good = next(r for r in watched.item.readings if r.grade is Grade.GOOD)
        said = self.memory.wordings.any(good.key, self.chance)
        return Utterance(
            who=0,
            parts=((good.key, said),),
            words=said,
            pause=0.05 if slow else max(0.0, start - now),
            waits=False,
            looked=(good.key,),
            slow=slow,
        )

    def _realise(self, intent: Intent, now: float) -> Utterance | Wait | None:
        match intent:
            case Look(item_id) if self.memory.item(item_id).unforeseen:
                return self._something_else(intent)
            case Look():
                return self._look(intent, now)
            case NameDark(item_id):
                return self._name_dark(self.memory.item(item_id), now)
            case Go(position):
                return self._simple(position_key(position), moves=position)
            case Power(bus, state):
                return self._power(bus, state, now)
            case Command(name, claims):
                return self._simple(f"command:{name}", claims=claims)
            case Repeat(what):
                return self._again(what)
            case _:
                return self._realise_seldom(intent, now)

    def _realise_seldom(self, intent: Intent, now: float) -> Utterance | Wait | None:
        match intent:
            case Turn(position):
                self._turn(position, now)
            case Disregard(position):
                return self._simple(f"disregard:{position}")
            case Reason(reason):
                return self._simple(f"reason:{reason}")
            case Chat(command):
                return self._chat(command)
            case Pause(seconds):
                if seconds >= mishaps.MENDED:
                    self.memory.leave(seconds)
                return Wait(now + seconds)
        return None

    def _chat(self, command: str | None) -> Utterance:
        words, key = self.chance.choice(TALK), command and f"command:{command}"
        if key:
            words = f"{self.memory.wordings.first(key)} {words}"
        return Utterance(0, (), words, self._pause(), sounds=key)

    def _simple(
        self, key: str, *, claims: tuple[str, ...] = (), moves: str | None = None
    ) -> Utterance:
        said = self.memory.wordings.any(key, self.chance)
        return Utterance(
            0, ((key, said),), said, self._pause(), self._waits(), claims=claims, moves=moves
        )

    def _again(self, last: Utterance) -> Utterance:
        return replace(last, pause=self._pause(), waits=True)

    def _power(self, bus: str, state: str, now: float) -> Utterance:
        """Switch, look at the voltmeter, and call what it shows."""
        self.aircraft.switch(bus, state == "on", now)
        live = self.aircraft.panel(now + SETTLED).buses[bus]
        shown = "on" if live else "off"
        if shown != state:
            # It does not do as it should: called as it is, and not tried for ever.
            tried = f"power {bus} {state}"
            self.memory.tries[tried] = self.memory.tries.get(tried, 0) + 1
        return self._simple(f"power:{bus}:{shown}")

    # What was said, and what came of it.

    def spoke(self, utterance: Utterance, start: float, end: float) -> None:
        """The words were said: write them down, and do what goes with them."""
        memory = self.memory
        self._answered = not utterance.parts
        self._breath += 1
        panel = self.aircraft.panel(start)
        faults = self.aircraft.wrong_now()
        self.account.scenes.append(Scene(start, panel.selector, panel.buses, faults))
        call = bool(utterance.parts) and not utterance.keys[0].startswith("command:")
        if call:
            memory.left_unanswered()
        if utterance.moves is not None:
            self._turn(utterance.moves, end)
        step = (end - start) / max(1, len(utterance.parts))
        rights = (*utterance.looked, *[None] * len(utterance.parts))
        for number, ((key, said), right) in enumerate(zip(utterance.parts, rights, strict=False)):
            began = start + number * step
            entry = Entry(
                key,
                memory.wordings.about(key),
                utterance.who,
                began,
                began + step,
                said,
                self._breath,
                right,
                utterance.claims,
                utterance.slow,
            )
            self.account.entries.append(entry)
            self._take_in(entry)
        if utterance.over is not None:
            self._spoke_over(utterance.over, start)
        if memory.last is None or memory.last.words != utterance.words:
            memory.repeats = 0
        memory.last = utterance
        if call:
            memory.call = utterance

    def _spoke_over(self, other: Utterance, start: float) -> None:
        """Written down; what the two believe is what the one of them said."""
        ((key, said),) = other.parts
        self._breath += 1
        about = self.memory.wordings.about(key)
        entry = Entry(key, about, other.who, start + 0.01, start + 0.5, said, self._breath)
        self.account.entries.append(entry)

    def _turn(self, position: str, at: float) -> None:
        memory = self.memory
        left, when = memory.position, at + self.chance.uniform(-0.05, 0.05)
        for item in self.checklist.position(position).items if left != position else ():
            memory.watching.pop(item.id, None)
        truly = position
        if self.does("wrong_selector"):
            others = [p.id for p in self.checklist.positions if p.id not in (left, position)]
            truly = self.chance.choice(others)
        self.aircraft.select(truly, when)
        for item in self.checklist.items:
            out = self.aircraft.goes_dark_at(item.id, when)
            if item.position != left or left == position or out is None:
                continue
            self.account.timed.append(TimedLamp(item.id, when, out))
            self._wait_for_dark(item, when)
        memory.position = position
        memory.here = {}
        if position != OFF:
            for item in self.checklist.position(OFF).items:
                memory.reopen(item)  # what was seen at rest is to be seen again

    def _wait_for_dark(self, item: Item, left: float) -> None:
        """Keep an eye on a lamp that is to go out, if it was good until the selector left."""
        memory = self.memory
        stages_good = all(memory.good(stage, memory.here) for stage in item.after)
        if stages_good and item.id not in memory.called:
            memory.watching[item.id] = Watched(item, memory.item(item.after[0]), left)

    def _take_in(self, entry: Entry) -> None:
        """Believe what was just said, until something says otherwise."""
        memory = self.memory
        if entry.key.startswith("command:"):
            plan.after_command(memory, entry)
            return
        memory.said(entry.key, entry.who)
        if entry.key in memory.wordings.readings:
            memory.overtaken(entry.about)
            memory.called[entry.about] = memory.here[entry.about] = entry.key
            memory.watching.pop(entry.about, None)
            memory.tries[entry.about] = memory.tries.get(entry.about, 0) + 1
        elif entry.key.startswith("power:"):
            memory.power.pop(entry.about, None)
            asked = memory.power_asked.items()
            memory.power_asked = {key: bus for key, bus in asked if bus != entry.about}
            memory.power_asked[entry.key] = entry.about

    def hears(self, prompt: str, values: Mapping[str, str], at: float) -> None:
        """A prompt was spoken."""
        self.memory.now = at
        if at < self.memory.away and not prompt.startswith("finished"):
            return
        if self._misses(prompt, values):
            self._answered = True
            return
        if prompt == "say-again" and not self._answered and self.memory.last is not None:
            answers.not_understood(self.memory, self.memory.last)
        self._answered = True
        answers.answer(self.memory, prompt, values)

    def _misses(self, prompt: str, values: Mapping[str, str]) -> bool:
        """Whether the crew does not hear a prompt, or not what it says."""
        if prompt.startswith("finished"):
            return False
        if not self.does("inattentive"):
            if not self.does("half_heard"):
                return False
            self.memory.first(Command("say-again"))
        self.memory.lets_pass(values)
        return True

    def after_utterance(self) -> None:
        """Everything that came of the last utterance has been heard; silence says something."""
        if self._answered or self.memory.over:
            return
        self._answered = True
        last = self.memory.last
        if self.does("inattentive"):
            self.memory.lets_pass({})
        elif last is not None:
            answers.not_understood(self.memory, last)
