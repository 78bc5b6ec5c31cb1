"""Place a script's lines in time: the crew waits for the prompts, as a real crew would.

The session is run with words instead of sound, through the same conductor and prompter, so
that the prompts take the time that they will take when the recording is listened to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE, Block
from voicecheck.callouts import Callout
from voicecheck.checklist.loader import Loaded
from voicecheck.engine import Engine
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import Kind
from voicecheck.rehearsal.script import Line, Script
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Quiet
from voicecheck.session.lexicon import lexicon_of
from voicecheck.session.options import VoiceOptions
from voicecheck.session.parts import open_voice
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.verdict import Accepted, Spoken, Verdict

DECISION: Final = 0.5
"""Seconds from the end of speech to its verdict, as with real listeners."""
TAIL: Final = 2.0
_SILENCE: Final = np.zeros(BLOCK, np.int16)


@dataclass(frozen=True, slots=True)
class Placed:
    """One line in time, with its sound. callouts: keys it means, in order; none for chatter."""

    line: Line
    sound: NDArray[np.int16]
    start: float
    callouts: tuple[str, ...]

    @property
    def end(self) -> float:
        """When its sound ends, in seconds."""
        return self.start + len(self.sound) / RATE


class ScriptedEar:
    """Hears exactly what the script says, when it says it."""

    def __init__(self, loaded: Loaded) -> None:
        self._lexicon = lexicon_of(loaded.language)
        self._grammar: Grammar | None = None
        self._due: list[tuple[float, Verdict]] = []
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
        parts = self._grammar.read(line.say.split()) if self._grammar else None
        if not line.meant:
            self._due.append((end + DECISION, Accepted((), start, end, end + DECISION)))
            return ()
        if parts is None:
            raise VoicecheckError(
                f"{start:.1f} s: {line.say!r} is not on offer; correct the script"
            )
        count = len(line.say.split())
        step = (end - start) / count
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
        self._due.append((end + DECISION, Accepted(spoken, start, end, end + DECISION)))
        return tuple(part.callout.key for part in parts)

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        """Let time pass; return what is decided by now."""
        self._samples += len(samples)
        done = [verdict for at, verdict in self._due if at <= self.now]
        self._due = [(at, verdict) for at, verdict in self._due if at > self.now]
        if not self._due:
            self.speaking_since = None
        return done

    def finish(self) -> list[Verdict]:
        """Everything that is still due."""
        done = [verdict for _, verdict in self._due]
        self._due = []
        return done


class _NoRecord:
    """Writes nothing: staging leaves no journal."""

    refused = False

    def write(self, kind: Kind, fields: Mapping[str, object], at: float) -> None:
        """Write nothing."""


@dataclass(frozen=True, slots=True)
class Staged:
    """A script in time. result: what the engine made of the words; seconds: whole length."""

    placed: tuple[Placed, ...]
    result: dict[str, Any]
    seconds: float


def stage(script: Script, loaded: Loaded, cache: Path) -> Staged:
    """Place all lines. Raises VoicecheckError when a line is not on offer at its time."""
    ear = ScriptedEar(loaded)
    clock = StreamClock(live=False)
    voice = open_voice(VoiceOptions(), cache, clock, live=False)
    conductor = Conductor(
        Engine(loaded.checklist),
        ear,
        loaded.language,
        voice.prompter,
        _NoRecord(),
        Quiet(),
        lambda summary, _ignored: summary,
    )
    talkers = {who: v.talker() for who, v in script.voices.items()}
    placed: list[Placed] = []
    clock.start(lambda: conductor.now)
    try:
        conductor.begin(second=script.crew.second is not None)
        for line in script.lines:
            sound = talkers[line.who].say(line.say)
            start = _start(conductor, line, placed[-1].end if placed else 0.0, voice.prompter)
            end = start + len(sound) / RATE
            _run_to(conductor, start)
            placed.append(Placed(line, sound, start, ear.hear(line, start, end)))
            _run_to(conductor, end)
        _run_to(conductor, placed[-1].end + TAIL)
        result = conductor.end("the recording ended")
    finally:
        voice.close()
    return Staged(tuple(placed), result, placed[-1].end + TAIL)


def _start(conductor: Conductor, line: Line, before: float, prompter: Any) -> float:
    if line.gap is not None:
        return before + line.gap
    _run_to(conductor, before + DECISION + 0.1)
    while not prompter.idle:
        conductor.take(Block(_SILENCE))
    return conductor.now + line.pause


def _run_to(conductor: Conductor, at: float) -> None:
    while conductor.now < at:
        conductor.take(Block(_SILENCE))
