"""A simulated crew in front of a session that it does not drive: live, or beside a student.

It speaks into a microphone and hears the prompts; time goes by without it. Whoever runs it
calls `tick` many times a second.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.measure.synthesis import Talker
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.intents import Utterance, Wait
from voicecheck.rehearsal.listening_in import Line
from voicecheck.rehearsal.voices import PASSENGER, sound_of

VERDICT: Final = 6.0
"""Seconds after an utterance in which its verdict comes, on a busy machine too."""
TURN: Final = 15.0
"""Seconds that the student has to read back."""
_BEGIN: Final = 0.4
_LETTER: Final = 0.07
"""Seconds that a prompt is taken to last: before it, and for each letter."""

Utter = Callable[[NDArray[np.int16]], None]
"""Begins to say something and returns at once."""


class Performer:
    """One crew. student: which of the two is a person, who speaks for himself; None: neither."""

    def __init__(
        self,
        crew: Crew,
        talkers: tuple[Talker, Talker],
        cache: Path,
        utter: Utter,
        student: int | None = None,
    ) -> None:
        self._crew = crew
        self._talkers = talkers
        self._cache = cache
        self._utter = utter
        self._student = student
        self._now = 0.0
        self._quiet = 0.0
        self._reactions = 0
        self._spoken = 0
        self._prompts = 0
        self._acting = self._act()

    def hear(self, line: Line, at: float) -> None:
        """Something was written down at `at`, on the performer's own clock.

        What was said to a student is the student's to answer; what ends or hinders the session
        is heard by both.
        """
        theirs = self._student is not None and line.channel == self._student
        if line.reacts:
            self._reactions += not theirs
            self._spoken += theirs
        for prompt, values, said in line.prompts:
            self._quiet = max(self._quiet, at) + _BEGIN + _LETTER * len(said)
            if theirs and line.reacts and prompt not in _TO_BOTH:
                continue
            self._prompts += 1
            self._crew.hears(prompt, values, at)

    @property
    def is_over(self) -> bool:
        """Whether the crew has nothing more to say, or has had enough."""
        return self._crew.is_over

    def tick(self, now: float) -> None:
        """Time has come to `now`."""
        self._now = now
        next(self._acting, None)

    def _act(self) -> Iterator[None]:
        while not self._crew.is_over:
            step = self._crew.next(self._now)
            if isinstance(step, Wait):
                yield from self._wait(max(step.until, self._now + 0.05))
            elif step.who == self._student:
                yield from self._listen()
            else:
                yield from self._say(step)

    def _wait(self, until: float) -> Iterator[None]:
        before = self._prompts
        while self._now < until and self._prompts == before:
            yield

    def _listen(self) -> Iterator[None]:
        """The student's turn: until he has spoken, or has been silent for long."""
        before = self._spoken
        until = max(self._quiet, self._now) + TURN
        while self._now < until and self._spoken == before and not self._crew.is_over:
            yield

    def _say(self, utterance: Utterance) -> Iterator[None]:
        begin = self._now + utterance.pause
        while self._now < begin or (utterance.waits and self._now < self._quiet):
            yield
        talker = self._talkers[utterance.who] if utterance.parts else PASSENGER
        sound = sound_of(talker, utterance.words, self._cache)
        end = self._now + len(sound) / RATE
        before = self._reactions
        self._crew.spoke(utterance, self._now, end)
        self._utter(sound)
        while self._now < end or (self._reactions == before and self._now < end + VERDICT):
            yield
        self._crew.after_utterance()


_TO_BOTH: Final = frozenset(
    {
        *("disagreement", "missing", "confirm-incomplete", "finished-complete"),
        *("finished-incomplete", "holding", "resuming", "part-lost"),
    }
)
"""Prompts that the simulated pilot minds although the student's words led to them."""
