"""A session without sound: words straight into the engine, as fast as it goes.

The crew's words get through, or do not, at the rates of `Ears`; what is not on offer is never
understood, as with a recogniser that is held to the grammar of the moment. Words that are another
callout's too are taken for the one that is on offer.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import Engine, effects, events
from voicecheck.oracle.heard import delivered
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.manners import Ears
from voicecheck.rehearsal.mishaps import revised
from voicecheck.rehearsal.played import Played
from voicecheck.world.acts import Utterance
from voicecheck.world.driver import Way, play

_SPELL: Final = 0.055
_BEGIN: Final = 0.35
"""Seconds that a prompt takes: for each letter, and before it."""
_WORD: Final = 0.33

Near = Mapping[str, Sequence[tuple[str, float]]]
"""Words -> other words that they are taken for, and how often, as measured."""


def _in_a_row(
    parts: Sequence[tuple[str, str]], start: float, end: float, channel: int
) -> list[events.Event]:
    """Callouts (key, words) of one breath, each as long as the next."""
    step = (end - start) / len(parts)
    return [
        events.Heard(key, words, start + n * step, start + (n + 1) * step, 0.99, channel)
        for n, (key, words) in enumerate(parts)
    ]


class FastLoop(Way):
    """One engine, one crew, and time that jumps to what is next. played: also after an error."""

    def __init__(
        self,
        checklist: Checklist,
        crew: Crew,
        ears: Ears,
        chance: random.Random,
        near: Near = MappingProxyType({}),
    ) -> None:
        super().__init__()
        self._near = near
        self._deaf = 0.0
        self._engine = Engine(checklist)
        self._crew = crew
        self._ears = ears
        self._chance = chance
        self._now = 0.0
        self._quiet = 0.0
        self._on_offer: frozenset[str] = frozenset()
        self._by_words: dict[str, str] = {}
        self._said: tuple[Utterance, float, float, bool] | None = None
        self.played = Played()

    def play(self) -> Played:
        """The whole session."""
        account = self._crew.account
        self._feed(events.Began(0.0, account.two_crew, account.channels))
        self.played.cut_off = play(self._crew, self)
        if not self.over:
            self._feed(events.Ended(self._now, "the crew fell silent"))
        self.played.seconds = self._now
        return self.played

    @property
    def now(self) -> float:
        """Seconds of the session."""
        return self._now

    @property
    def over(self) -> bool:
        """Whether there is a summary."""
        return bool(self.played.summary)

    @property
    def speaking(self) -> bool:
        """Whether the words have yet to be understood."""
        return self._said is not None

    def turn(self, said: Utterance, begin: float | None) -> float:
        """After its pause, and after the prompts if it waits for them."""
        if begin is None:
            self._mishaps()
            begin = self._now + said.pause
            if said.waits:
                begin = max(begin, self._quiet + 0.3)
        question = self._engine.state.question
        if question is not None and "command:affirm" in said.keys:
            # No question is answered before it has sounded, each call in it read back.
            begin = max(begin, question.asked_at + 0.6 * max(1, len(question.claims)))
        return begin

    def utter(self, said: Utterance) -> float:
        """A touch takes no time; words do."""
        touched = self._happens("touched")
        end = self._now if touched else self._now + 0.1 + _WORD * len(said.words.split())
        self._said = (said, self._now, end, touched)
        return end

    def let(self, until: float) -> None:
        """To the end of what is said, else to the engine's next wake-up, else to the end."""
        if self._said is not None:
            said, start, self._now, touched = self._said
            self._said = None
            if not self._deaf:
                self._spoken(said, start, touched=touched)
            return
        wake = self._engine.wake
        due = min(until if wake is None else wake, self._deaf or math.inf)
        if due > until or (wake is None and not self._deaf):
            self._now = max(self._now, until)
            return
        self._now = max(self._now, due)
        if due == self._deaf:
            self._deaf = 0.0
            self._feed(events.Restored(events.Part.MICROPHONE, self._now))
        else:
            self._feed(events.Passed(self._now))

    def _spoken(self, said: Utterance, start: float, *, touched: bool) -> None:
        if self._on_offer and self._happens("mistouched"):
            key = self._chance.choice(sorted(self._on_offer))
            self._crew.account.slipped.add(key)
            self._feed(events.KeyPressed(key, start))
        if touched:
            given: Sequence[events.Event] = [events.KeyPressed(key, self._now) for key in said.keys]
        else:
            given = self._heard(said, start, self._now)
        if said.over is not None:
            given = self._both(given, said.over, start)
        for event in given:
            self._feed(event)

    def _both(
        self, given: Sequence[events.Event], other: Utterance, start: float
    ) -> Sequence[events.Event]:
        """Two at one microphone are not understood, or one of them is; with two, both are."""
        over = self._heard(other, start + 0.01, self._now + 0.01)
        if self._crew.account.channels > 1:
            return [*given, *over]
        mixed = events.Unclear(start, self._now)
        return self._chance.choice(([mixed], given, over))

    def _mishaps(self) -> None:
        """What may happen between two utterances."""
        microphone, session = events.Part.MICROPHONE, events.Part.SESSION
        if not self._deaf and self._happens("long_loss"):
            self._feed(events.Lost(microphone, self._now))
            self._deaf = self._now + self._chance.uniform(30.0, 300.0)
        elif not self._deaf and self._happens("crash"):
            self._feed(events.Lost(session, self._now))
            self._skip(5.0, 3600.0)
            self._feed(events.Restored(session, self._now))
            if self._happens("revised"):
                revised(self._crew.memory)
        elif self._happens("clock_jump"):
            self._skip(60.0, 7200.0)

    def _skip(self, least: float, most: float) -> None:
        """Time goes on at once, and costs the crew no patience."""
        seconds = self._chance.uniform(least, most)
        self._now += seconds
        self._crew.memory.absent += seconds

    def _heard(self, said: Utterance, start: float, end: float) -> Sequence[events.Event]:
        channel = said.who if self._crew.account.channels > 1 else 0
        overheard = events.Overheard(start, end)
        unclear = events.Unclear(start, end, (), channel)
        if not said.parts:
            return [self._of_others(said, start, end, channel)]
        if self._happens("lost"):
            mic = events.Part.MICROPHONE
            return [events.Lost(mic, start), events.Restored(mic, end)]
        parts = [(self._understood(key, words), words) for key, words in said.parts]
        if not {key for key, _ in parts} <= self._on_offer:
            return [overheard if self._chance.random() < 0.3 else unclear]
        for name, event in (("overheard", overheard), ("unclear", unclear)):
            if self._happens(name):
                return [event]
        if guess := self._guess(said):
            return [events.Unclear(start, end, guess, channel)]
        return _in_a_row([self._taken(*part) for part in parts], start, end, channel)

    def _of_others(self, said: Utterance, start: float, end: float, channel: int) -> events.Event:
        """What becomes of words that are not for us."""
        if said.sounds in self._on_offer and self._happens("radio_taken"):
            return events.Heard(str(said.sounds), said.words, start, end, 0.9, channel)
        if self._happens("chatter_unclear"):
            return events.Unclear(start, end, (), channel)
        return events.Overheard(start, end)

    def _guess(self, said: Utterance) -> tuple[str, ...]:
        """What it is half understood as: rightly, wrongly, or nothing where it is understood."""
        if self._happens("guessed"):
            return said.keys
        if self._happens("misguessed"):
            return (self._chance.choice(sorted(self._on_offer)),)
        return ()

    def _understood(self, key: str, words: str) -> str:
        """A listener knows the words, not what was meant: those of two positions are of this."""
        other = key if key in self._on_offer else self._by_words.get(words, key)
        if other != key:
            self._crew.account.does("words of another position", self._now)
        return other

    def _taken(self, key: str, words: str) -> tuple[str, str]:
        """What is acted on: what was said, or what sounds like it."""
        near = [(other, rate) for other, rate in self._near.get(words, ())]
        near = [(other, rate) for other, rate in near if self._by_words.get(other, key) != key]
        if not near or not self._happens("misheard"):
            return key, words
        (other,) = self._chance.choices([o for o, _ in near], [rate for _, rate in near])
        return self._by_words[other], other

    def _happens(self, name: str) -> bool:
        """Whether it happens this time, at the rate of that name; counted."""
        rate: float = getattr(self._ears, name)
        if rate <= 0 or self._chance.random() >= rate:
            return False
        self._crew.account.does(name, self._now)
        return True

    def _feed(self, event: events.Event) -> None:
        self.played.events.append(event)
        made = self._engine.handle(event)
        self.played.delivered.append(delivered(event, made))
        for effect in made:
            match effect:
                case effects.Say(prompt, values, _):
                    letters = sum(map(len, values.values()))
                    self._quiet = max(self._quiet, self._now) + _BEGIN + _SPELL * letters
                    self.heard.append((prompt, values))
                case effects.Listen(callouts):
                    self._on_offer = frozenset(callout.key for callout in callouts)
                    self._by_words = {words: c.key for c in callouts for words in c.phrases}
                case effects.Finish(summary):
                    self.played.summary = dict(summary)
