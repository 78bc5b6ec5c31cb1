"""A session that a simulated crew does not drive: live, or beside a student.

Its words go into a microphone; the prompts are heard through the journal, as it grows.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from voicecheck.audio.source import RATE, Samples
from voicecheck.world.acts import Utterance
from voicecheck.world.driver import Way
from voicecheck.world.journal_lines import Line
from voicecheck.world.voices import Voices

VERDICT: Final = 6.0
"""Seconds after an utterance in which its verdict comes, on a busy machine too."""
TURN: Final = 15.0
"""Seconds that the student has to read back."""
_BEGIN: Final = 0.4
_LETTER: Final = 0.07
"""Seconds that a prompt is taken to last: before it, and for each letter."""
_TO_BOTH: Final = frozenset(
    {
        *("disagreement", "missing", "end-found", "end-untested", "confirm-incomplete"),
        *("confirm-findings", "finished-complete"),
        *("finished-incomplete", "holding", "resuming", "part-lost"),
    }
)
"""Prompts that the simulated pilot minds although the student's words led to them."""


class RealTime(Way):
    """A session elsewhere. utter: begins to say something and returns at once.

    student: which of the two is a person, who speaks for himself; None: neither. Whoever runs
    it sets `clock`, in seconds, and hands over the lines of the journal.
    """

    patience = VERDICT

    def __init__(
        self, voices: Voices, utter: Callable[[Samples], None], student: int | None = None
    ) -> None:
        super().__init__()
        self._voices = voices
        self._utter = utter
        self._student = student
        self._quiet = 0.0
        self._end = 0.0
        self._listens = False
        self._answered = False
        self.clock = 0.0

    def hear(self, line: Line) -> None:
        """Something was written down.

        What was said to a student is the student's to answer; what ends or hinders the session
        is heard by both.
        """
        theirs = self._student is not None and line.channel == self._student
        self._answered |= line.reacts and theirs == self._listens
        for prompt, values, said in line.prompts:
            self._quiet = max(self._quiet, self.clock) + _BEGIN + _LETTER * len(said)
            if not theirs or not line.reacts or prompt in _TO_BOTH:
                self.heard.append((prompt, values))

    @property
    def now(self) -> float:
        """Seconds, as whoever runs it tells them."""
        return self.clock

    @property
    def speaking(self) -> bool:
        """Whether the words still sound."""
        return self.clock < self._end

    @property
    def answered(self) -> bool:
        """Whether the words were understood, or not; of a student's turn, the student's."""
        return self._answered

    def absent(self, said: Utterance) -> bool:
        """Whether it is the student's to say; then the student's words are waited for."""
        self._listens = said.who == self._student
        self._answered = False
        return self._listens

    def turn(self, said: Utterance, begin: float | None) -> float:
        """After its pause and the prompts; a student's turn ends TURN after them."""
        if self._listens:
            return max(self._quiet, self.clock) + TURN
        begin = self.clock + said.pause if begin is None else begin
        return max(begin, self._quiet) if said.waits else begin

    def utter(self, said: Utterance) -> float:
        """Into the microphone."""
        sound = self._voices.say(said)
        self._end = self.clock + len(sound) / RATE
        self._answered = False
        self._utter(sound)
        return self._end

    def let(self, until: float) -> None:
        """Time goes by without us."""
