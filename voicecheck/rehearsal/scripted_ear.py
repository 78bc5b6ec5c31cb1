"""An ear that hears exactly what a script says, when it says it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.callouts import Callout
from voicecheck.checklist.loader import Loaded
from voicecheck.errors import VoicecheckError
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.rehearsal.script import Line
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.verdict import Accepted, Spoken, Verdict

DECISION: Final = 0.5
"""Seconds from the end of speech to its verdict, as with real listeners."""


class ScriptedEar:
    """Hears exactly what the script says, when it says it."""

    def __init__(self, loaded: Loaded) -> None:
        self._lexicon = lexicon_of(loaded.language)
        self._grammar: Grammar | None = None
        self._due: list[Verdict] = []
        self._samples = 0
        self.speaking_since: float | None = None

    @property
    def now(self) -> float:
        """Stream time."""
        return self._samples / RATE

    def listen(self, callouts: Sequence[Callout]) -> None:
        """Take the offers of the moment."""
        self._grammar = Grammar(tuple(callouts), self._lexicon.joiners)

    def hear(self, line: Line, start: float, end: float) -> tuple[str, ...]:
        """Somebody begins to speak; returns the callouts that the words mean now."""
        self.speaking_since = start
        words = line.say.split()
        parts = (self._grammar.read(words) if self._grammar else None) if line.meant else ()
        if parts is None:
            raise VoicecheckError(
                f"{start:.1f} s: {line.say!r} is not on offer; correct the script"
            )
        step, decided = (end - start) / len(words), end + DECISION
        spoken = tuple(
            Spoken(
                part.callout.key,
                part.phrase,
                start + part.first * step,
                start + (part.first + len(part.phrase.split())) * step,
                1.0,
            )
            for part in parts
        )
        self._due.append(Accepted(spoken, start, end, decided))
        return tuple(part.callout.key for part in parts)

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        """Let time pass; return what is decided by now."""
        self._samples += len(samples)
        done = [verdict for verdict in self._due if verdict.decided <= self.now]
        self._due = [verdict for verdict in self._due if verdict.decided > self.now]
        if not self._due:
            self.speaking_since = None
        return done

    def finish(self) -> list[Verdict]:
        """Everything that is still due."""
        done, self._due = self._due, []
        return done
