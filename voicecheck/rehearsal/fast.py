"""The loop without sound: words straight into the engine, as fast as it goes.

The crew's words get through, or do not, at the rates of `Ears`; what is not on offer is never
understood, as with a recogniser that is held to the grammar of the moment.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import Engine, effects, events
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.intents import Utterance, Wait
from voicecheck.rehearsal.manners import Ears

MOST_STEPS: Final = 6000
"""Steps of a crew after which a session is cut off."""
_SPELL: Final = 0.055
_BEGIN: Final = 0.35
"""Seconds that a prompt takes: for each letter, and before it."""
_WORD: Final = 0.33


@dataclass(slots=True)
class Played:
    """One session.

    summary: the engine's result, empty until it ends. events: everything the engine was given.
    seconds: how long it took, in its own time. cut_off: the loop ended it, not the crew.
    """

    summary: dict[str, Any]
    events: list[events.Event] = field(default_factory=list)
    seconds: float = 0.0
    cut_off: bool = False


class FastLoop:
    """One engine, one crew, and time that passes between them."""

    def __init__(self, checklist: Checklist, crew: Crew, ears: Ears, chance: random.Random) -> None:
        self._engine = Engine(checklist)
        self._crew = crew
        self._ears = ears
        self._chance = chance
        self._now = 0.0
        self._quiet = 0.0
        self._on_offer: frozenset[str] = frozenset()
        self._prompted = False
        self.played = Played({})
        """What has been played so far, also after an error."""

    def play(self) -> Played:
        """The whole session."""
        account = self._crew.account
        self._feed(events.Began(0.0, account.two_crew, account.channels))
        for _ in range(MOST_STEPS):
            if self.played.summary or self._crew.is_over:
                break
            step = self._crew.next(self._now)
            if isinstance(step, Wait):
                self._pass(max(step.until, self._now + 0.05), until_prompted=True)
            else:
                self._say(step)
        if not self.played.summary:
            self.played.cut_off = not self._crew.is_over
            self._feed(events.Ended(self._now, "the crew fell silent"))
        self.played.seconds = self._now
        return self.played

    def _say(self, utterance: Utterance) -> None:
        start = self._now + utterance.pause
        if utterance.waits:
            start = max(start, self._quiet + 0.3)
        self._pass(start)
        if self.played.summary:
            return
        touched = self._happens(self._ears.touched)
        # A touch takes no time; words do.
        end = start if touched else start + 0.1 + _WORD * len(utterance.words.split())
        on_offer = self._on_offer
        self._crew.spoke(utterance, start, end)
        self._now = end
        if touched:
            heard: Sequence[events.Event] = [events.KeyPressed(k, end) for k in utterance.keys]
        else:
            heard = self._heard(utterance, start, end, on_offer)
        for event in heard:
            self._feed(event)
        self._crew.after_utterance()

    def _heard(
        self, utterance: Utterance, start: float, end: float, on_offer: frozenset[str]
    ) -> Sequence[events.Event]:
        ears, who = self._ears, utterance.who
        channel = who if self._crew.account.channels > 1 else 0
        if not utterance.parts:
            if self._happens(ears.chatter_unclear):
                return [events.Unclear(start, end, (), channel)]
            return [events.Overheard(start, end)]
        if self._happens(ears.lost):
            mic = events.Part.MICROPHONE
            return [events.Lost(mic, start), events.Restored(mic, end)]
        if not set(utterance.keys) <= on_offer:
            if self._happens(0.3):
                return [events.Overheard(start, end)]
            return [events.Unclear(start, end, (), channel)]
        if self._happens(ears.overheard):
            return [events.Overheard(start, end)]
        if self._happens(ears.unclear):
            return [events.Unclear(start, end, (), channel)]
        if self._happens(ears.guessed):
            return [events.Unclear(start, end, utterance.keys, channel)]
        if self._happens(ears.misguessed):
            other = self._chance.choice(sorted(on_offer))
            return [events.Unclear(start, end, (other,), channel)]
        step = (end - start) / len(utterance.parts)
        return [
            events.Heard(key, said, start + n * step, start + (n + 1) * step, 0.99, channel)
            for n, (key, said) in enumerate(utterance.parts)
        ]

    def _happens(self, rate: float) -> bool:
        return rate > 0 and self._chance.random() < rate

    def _pass(self, until: float, *, until_prompted: bool = False) -> None:
        """Let time go by; the engine is woken when it asked to be."""
        self._prompted = False
        while not self.played.summary:
            wake = self._engine.wake
            if wake is None or wake > until:
                break
            self._now = max(self._now, wake)
            self._feed(events.Passed(self._now))
            if until_prompted and self._prompted:
                return
        self._now = max(self._now, until)

    def _feed(self, event: events.Event) -> None:
        self.played.events.append(event)
        for effect in self._engine.handle(event):
            match effect:
                case effects.Say(prompt, values, _):
                    self._prompted = True
                    letters = sum(map(len, values.values()))
                    self._quiet = max(self._quiet, self._now) + _BEGIN + _SPELL * letters
                    self._crew.hears(prompt, values, self._now)
                case effects.Listen(callouts):
                    self._on_offer = frozenset(callout.key for callout in callouts)
                case effects.Finish(summary):
                    self.played.summary = dict(summary)
