"""The loop through sound: synthetic voices, noise, and the listeners of a real session.

Everything but microphone and loudspeaker is as in `voicecheck run`; time is that of the
samples, so it goes as fast as the machine allows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE, Block
from voicecheck.checklist.loader import Loaded
from voicecheck.engine import Engine, effects, events
from voicecheck.journal.format import Kind
from voicecheck.measure.synthesis import Talker
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.intents import Utterance, Wait
from voicecheck.rehearsal.microphones import Microphones
from voicecheck.rehearsal.voices import PASSENGER, sound_of
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Display, Quiet
from voicecheck.session.equipment import Equipment
from voicecheck.session.options import VoiceOptions
from voicecheck.session.parts import open_voice
from voicecheck.speech.opening import OpenedEar

VERDICT: Final = 0.9
"""Seconds of sound after an utterance in which its verdict comes."""
MOST_STEPS: Final = 6000
"""Steps of a crew after which a session is cut off; its patience ends long before."""


@dataclass(slots=True)
class Sounded:
    """One session.

    lines: what a journal would hold. sound: all the crew said, with noise; of two microphones
    of shape (n, 2).
    """

    summary: dict[str, Any]
    seconds: float
    cut_off: bool
    lines: list[dict[str, Any]] = field(default_factory=list)
    sound: NDArray[np.int16] = field(default_factory=lambda: np.zeros(0, np.int16))


class _Kept:
    """A journal in memory, for the sessions that must be shown."""

    refused = False

    def __init__(self) -> None:
        self.lines: list[dict[str, Any]] = []

    def write(self, kind: Kind, fields: Mapping[str, object], at: float) -> None:
        """Keep one line."""
        self.lines.append({"kind": kind.value, "at": round(at, 3), **fields})


class HeardEngine(Engine):
    """An engine whose prompts the simulated crew hears."""

    heard: list[tuple[str, Mapping[str, str]]]

    def handle(self, event: events.Event) -> list[effects.Effect]:
        """As the engine does, and keep what is to be spoken."""
        made = super().handle(event)
        self.heard += [(e.prompt, e.values) for e in made if isinstance(e, effects.Say)]
        return made


class SoundLoop:
    """One crew with its voices in front of real listeners.

    ears: one, or one for each of two people. noise_db: speech over pink noise in dB; None: a
    quiet room. talkers: pilot and second. tick: told the stream time after each block.
    """

    def __init__(
        self,
        loaded: Loaded,
        crew: Crew,
        ears: Sequence[OpenedEar],
        talkers: tuple[Talker, Talker],
        cache: Path,
        *,
        noise_db: float | None = None,
        seed: int = 0,
        display: Display | None = None,
        tick: Callable[[float], None] | None = None,
    ) -> None:
        self._crew = crew
        self._tick = tick
        self._talkers = talkers
        self._cache = cache
        self._engine = HeardEngine(loaded.checklist)
        self._engine.heard = []
        self._kept = _Kept()
        clock = StreamClock()
        self._voice = open_voice(VoiceOptions(speak=False), cache, clock, live=False)
        self._conductor = Conductor(
            self._engine,
            Equipment(loaded.language, self._voice.prompter, [opened.ear for opened in ears]),
            self._kept,
            display or Quiet(),
            lambda summary, _ignored: summary,
        )
        clock.start(lambda: self._conductor.now)
        self._microphones = Microphones(len(ears), noise_db, seed)
        self._track: list[NDArray[np.int16]] = []

    @property
    def _now(self) -> float:
        return self._conductor.now

    @property
    def _over(self) -> bool:
        return self._conductor.summary is not None

    def play(self) -> Sounded:
        """The whole session."""
        cut_off = False
        try:
            self._conductor.begin(second=self._crew.account.two_crew)
            self._tell()
            for _ in range(MOST_STEPS):
                if self._over or self._crew.is_over:
                    break
                step = self._crew.next(self._now)
                if isinstance(step, Wait):
                    self._wait(max(step.until, self._now + 0.05))
                else:
                    self._say(step)
            cut_off = not self._over and not self._crew.is_over
            summary = self._conductor.end("the crew fell silent")
        finally:
            self._voice.close()
        sound = np.concatenate(self._track) if self._track else np.zeros(0, np.int16)
        return Sounded(summary, self._now, cut_off, self._kept.lines, sound)

    def _wait(self, until: float) -> None:
        while self._now < until and not self._over and not self._engine.heard:
            self._take(np.zeros(BLOCK, np.int16))
        self._tell()

    def _say(self, utterance: Utterance) -> None:
        begin = self._now + utterance.pause
        while utterance.waits and not self._voice.prompter.idle and not self._over:
            self._take(np.zeros(BLOCK, np.int16))
            begin = self._now + min(utterance.pause, 0.6)
        while self._now < begin and not self._over:
            self._take(np.zeros(BLOCK, np.int16))
        if self._over:
            return
        self._tell()  # of what came before it spoke: no answer to what it says now
        talker = self._talkers[utterance.who] if utterance.parts else PASSENGER
        sound = sound_of(talker, utterance.words, self._cache)
        start = self._now
        self._crew.spoke(utterance, start, start + len(sound) / RATE)
        for at in range(0, len(sound), BLOCK):
            part = sound[at : at + BLOCK]
            who = utterance.who if utterance.parts else None
            self._take(np.pad(part, (0, BLOCK - len(part))), who)
        until = self._now + VERDICT
        while self._now < until and not self._over and not self._engine.heard:
            self._take(np.zeros(BLOCK, np.int16))
        self._tell()
        self._crew.after_utterance()

    def _tell(self) -> None:
        heard, self._engine.heard = self._engine.heard, []
        for prompt, values in heard:
            self._crew.hears(prompt, values, self._now)

    def _take(self, spoken: NDArray[np.int16], who: int | None = None) -> None:
        if self._over:
            return
        block = self._microphones.take(spoken, who)
        self._track.append(_lanes(block))
        self._conductor.take(block)
        if self._tick is not None:
            self._tick(self._now)


def _lanes(block: Block) -> NDArray[np.int16]:
    if block.second is None:
        return block.samples
    return np.stack([block.samples, block.second], axis=1)
