"""A session in this process and the microphones in front of it.

Everything but microphone and loudspeaker is as in `voicecheck run`; time is that of the
samples, so it goes as fast as the machine allows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE, Block
from voicecheck.checklist.loader import Loaded
from voicecheck.engine import Engine
from voicecheck.journal.format import Kind
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Display, Quiet
from voicecheck.session.equipment import Equipment
from voicecheck.session.lanes import Hears
from voicecheck.session.options import VoiceOptions
from voicecheck.session.parts import open_voice
from voicecheck.session.record import Writes
from voicecheck.session.recording import Recording
from voicecheck.world.acts import Utterance
from voicecheck.world.driver import Way
from voicecheck.world.journal_lines import line_of
from voicecheck.world.microphones import Microphones

VERDICT: Final = 0.9
"""Seconds of sound after an utterance in which its verdict comes."""
_RESUMED: Final = 0.6
"""Seconds after a prompt that was waited for, at most, until somebody speaks."""
Say = Callable[[Utterance], NDArray[np.int16]]
"""An utterance as 16 kHz mono."""


@dataclass(frozen=True, slots=True)
class Fittings:
    """What else a session has. record: None keeps the journal in memory. voice: None: mute.

    summarise: as for the conductor. tick: told the stream time after each block. keep: the
    sound, in memory.
    """

    record: Writes | None = None
    recording: Recording | None = None
    voice: VoiceOptions | None = None
    display: Display | None = None
    summarise: Callable[[dict[str, Any], int], dict[str, Any]] | None = None
    tick: Callable[[float], None] | None = None
    keep: bool = True


class SoundWay(Way):
    """One session that hears a crew. ears: one, or one for each of two people.

    lines: what a journal would hold, where it is kept in memory.
    """

    patience = VERDICT
    refused = False

    def __init__(
        self,
        loaded: Loaded,
        ears: Sequence[Hears],
        microphones: Microphones,
        say: Say,
        cache: Path,
        fittings: Fittings | None = None,
    ) -> None:
        super().__init__()
        self._fitted = fitted = fittings or Fittings()
        self._microphones = microphones
        self._to_sound = say
        self._left = np.zeros(0, np.int16)
        self._who: int | None = None
        self._track: list[NDArray[np.int16]] = []
        self.lines: list[dict[str, Any]] = []
        self.engine = Engine(loaded.checklist)
        clock, taped = StreamClock(), fitted.recording
        self.voice = open_voice(
            fitted.voice or VoiceOptions(speak=False),
            cache,
            clock,
            live=False,
            kept=taped.gave if taped is not None else None,
            respelt=loaded.language.speech.respelt,
        )
        self.conductor = Conductor(
            self.engine,
            Equipment(loaded.language, self.voice.prompter, ears, recording=taped),
            fitted.record or self,
            fitted.display or Quiet(),
            fitted.summarise or (lambda summary, _ignored: summary),
        )
        clock.start(lambda: self.conductor.now)

    def write(self, kind: Kind, fields: Mapping[str, object], at: float) -> None:
        """As a journal: keep one line, and hear the prompts in it."""
        self.lines.append({"kind": kind.value, "at": round(at, 3), **fields})
        if kind is Kind.EVENT:
            self.heard += [(prompt, values) for prompt, values, _ in line_of(fields).prompts]

    @property
    def sound(self) -> NDArray[np.int16]:
        """All that reached the microphones: of shape (n,), of two (n, 2)."""
        return np.concatenate(self._track) if self._track else np.zeros(0, np.int16)

    @property
    def now(self) -> float:
        """Stream time in seconds."""
        return self.conductor.now

    @property
    def over(self) -> bool:
        """Whether there is a summary."""
        return self.conductor.summary is not None

    @property
    def speaking(self) -> bool:
        """Whether there is sound left of the utterance."""
        return self._left.size > 0

    def turn(self, said: Utterance, begin: float | None) -> float:
        """After its pause, which those who wait for a prompt have used for waiting."""
        if begin is not None and begin < float("inf"):
            return begin
        if said.waits and not self.voice.prompter.idle:
            return float("inf")
        return self.now + (said.pause if begin is None else min(said.pause, _RESUMED))

    def utter(self, said: Utterance) -> float:
        """From the next block on."""
        self._left = self._to_sound(said)
        self._who = said.who if said.parts else None
        return self.now + len(self._left) / RATE

    def let(self, until: float) -> None:
        """One block."""
        part, self._left = self._left[:BLOCK], self._left[BLOCK:]
        block = self._microphones.take(part, self._who if part.size else None)
        if self._fitted.keep:
            self._track.append(_channels(block))
        self.conductor.take(block)
        if self._fitted.tick is not None:
            self._fitted.tick(self.now)


def _channels(block: Block) -> NDArray[np.int16]:
    if block.second is None:
        return block.samples
    return np.stack([block.samples, block.second], axis=1)
