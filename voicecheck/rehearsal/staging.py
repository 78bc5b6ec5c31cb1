"""Put a script on stage: the crew waits for the prompts, and repeats what is asked again.

The session runs through the same conductor and prompter as a real one, so prompts take the
time that they will take when the recording is listened to. With words alone every line is
heard as written, which shows whether the script leads to its own truth. With listeners the
crew's sound and the script's noise are really heard: a line that is not understood is said
again, a read-back that asks "affirm?" is answered, and a line that is taken for another
one stops the staging.
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
from voicecheck.checklist.vocabulary import words as words_of
from voicecheck.engine import Engine
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import Kind
from voicecheck.measure.noise import noise
from voicecheck.measure.synthesis import LEVEL_DBFS
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.rehearsal.script import Line, Noise, Script
from voicecheck.rehearsal.scripted_ear import DECISION, ScriptedEar
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Quiet
from voicecheck.session.equipment import Equipment
from voicecheck.session.hearing import open_hearing
from voicecheck.session.lanes import Hears
from voicecheck.session.options import HearingOptions, VoiceOptions
from voicecheck.session.parts import open_voice
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.verdict import Accepted, Verdict

TAIL: Final = 2.0
"""Seconds of quiet after the last line."""
REPEATS: Final = 3
PATIENCE: Final = 2.5
"""Seconds after which a crew that hears no answer speaks again."""
LONGEST: Final = 900
"""Seconds of noise made for one recording."""


@dataclass(frozen=True, slots=True)
class Placed:
    """One utterance in time. callouts: keys it means, in order; none for chatter."""

    who: str
    say: str
    sound: NDArray[np.int16]
    start: float
    callouts: tuple[str, ...]

    @property
    def end(self) -> float:
        """When its sound ends, in seconds."""
        return self.start + len(self.sound) / RATE


@dataclass(frozen=True, slots=True)
class Staged:
    """A script in time. result: what the engine made of it; sound: 16 kHz mono int16.

    repeated: utterances that were not in the script but said again or answered.
    """

    placed: tuple[Placed, ...]
    result: dict[str, Any]
    sound: NDArray[np.int16]
    repeated: int


class _Listening:
    """Real listeners whose verdicts the staged crew can wait for."""

    def __init__(self, ear: Hears) -> None:
        self._ear = ear
        self.verdicts: list[Verdict] = []

    @property
    def speaking_since(self) -> float | None:
        return self._ear.speaking_since

    def listen(self, callouts: Sequence[Callout]) -> None:
        self._ear.listen(callouts)

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        decided = self._ear.feed(samples)
        self.verdicts += decided
        return decided

    def finish(self) -> list[Verdict]:
        return self._ear.finish()


class _NoRecord:
    """Writes nothing: staging leaves no journal."""

    refused = False

    def write(self, kind: Kind, fields: Mapping[str, object], at: float) -> None:
        """Write nothing."""


class Stage:
    """One script being played. listeners None: with words alone."""

    def __init__(
        self, script: Script, loaded: Loaded, cache: Path, listeners: HearingOptions | None
    ) -> None:
        self._script = script
        self._loaded = loaded
        self._engine = Engine(loaded.checklist)
        self._scripted = ScriptedEar(loaded) if listeners is None else None
        self._real: _Listening | None = None
        if listeners is not None:
            self._real = _Listening(
                open_hearing(loaded.language, listeners, cache, words_of(loaded.checklist)).ear
            )
        ears = [ear for ear in (self._scripted, self._real) if ear is not None]
        clock = StreamClock()
        self._voice = open_voice(
            VoiceOptions(), cache, clock, live=False, respelt=loaded.language.speech.respelt
        )
        self._conductor = Conductor(
            self._engine,
            Equipment(loaded.language, self._voice.prompter, ears),
            _NoRecord(),
            Quiet(),
            lambda summary, _ignored: summary,
        )
        clock.start(lambda: self._conductor.now)
        self._talkers = {who: v.talker() for who, v in script.voices.items()}
        self._noise = background(script.noise or Noise(name="pink", db=50.0), script.seed)
        self._track: list[NDArray[np.int16]] = []
        self._placed: list[Placed] = []

    def play(self) -> Staged:
        """The whole script. Raises VoicecheckError when a line leads elsewhere."""
        script = self._script
        try:
            self._conductor.begin(second=script.crew.second is not None)
            for line in script.lines:
                self._line(line)
            self._run_to(self._placed[-1].end + TAIL)
            result = self._conductor.end("the recording ended")
        finally:
            self._voice.close()
        extra = len(self._placed) - len(script.lines)
        return Staged(tuple(self._placed), result, np.concatenate(self._track), extra)

    def _line(self, line: Line) -> None:
        self._run_to(self._start(line))
        wanted = self._meaning(line.say) if line.meant else ()
        for _ in range(REPEATS + 1):
            if self._understood(line, wanted):
                return
            line = line.model_copy(update={"gap": None})
            self._run_to(self._start(line))
        raise VoicecheckError(
            f"{self._now:.1f} s: {line.say!r} was not understood, said {REPEATS + 1} times; "
            "change its words, its voice or the noise"
        )

    def _understood(self, line: Line, wanted: tuple[str, ...]) -> bool:
        heard = self._utter(line, wanted)
        if heard == wanted:
            return True
        if heard:
            raise VoicecheckError(
                f"{self._now:.1f} s: {line.say!r} was taken for {', '.join(heard)}; "
                "change its words"
            )
        question = self._engine.state.question
        if question is None or not question.claims:
            return False
        if tuple(claim.callout for claim in question.claims) == wanted:
            return bool(self._answer(line, "affirmative", "command:affirm"))
        if question.claims[0].callout not in wanted:
            self._answer(line, "negative", "command:negative")
        return False

    def _answer(self, line: Line, words: str, key: str) -> tuple[str, ...]:
        answer = line.model_copy(update={"say": words, "gap": None})
        self._run_to(self._start(answer))
        return self._utter(answer, (key,))

    def _utter(self, line: Line, wanted: tuple[str, ...]) -> tuple[str, ...]:
        """Say a line; returns the callouts that were acted on."""
        sound = self._talkers[line.who].say(line.say)
        placed = Placed(line.who, line.say, sound, self._now, wanted)
        self._placed.append(placed)
        if self._scripted is not None:
            self._scripted.hear(line, placed.start, placed.end)
            self._run(sound)
            return wanted
        assert self._real is not None
        self._real.verdicts.clear()
        self._run(sound)
        patience = self._now + PATIENCE
        while not self._real.verdicts and self._now < patience:
            self._quiet()
        accepted = [v for v in self._real.verdicts if isinstance(v, Accepted)]
        return tuple(part.callout for verdict in accepted for part in verdict.spoken)

    def _meaning(self, words: str) -> tuple[str, ...]:
        offered = tuple(offer.callout for offer in self._engine.offers().values())
        parts = Grammar(offered, lexicon_of(self._loaded.language).joiners).read(words.split())
        if parts is None:
            raise VoicecheckError(f"{self._now:.1f} s: {words!r} is not on offer; mend the script")
        return tuple(part.callout.key for part in parts)

    @property
    def _now(self) -> float:
        return self._conductor.now

    def _start(self, line: Line) -> float:
        before = self._placed[-1].end if self._placed else 0.0
        if line.gap is not None:
            return before + line.gap
        self._run_to(before + DECISION + 0.1)
        while not self._voice.prompter.idle:
            self._quiet()
        return self._now + line.pause

    def _run_to(self, at: float) -> None:
        while self._now < at:
            self._quiet()

    def _quiet(self) -> None:
        self._take(np.zeros(BLOCK, np.int16))

    def _run(self, sound: NDArray[np.int16]) -> None:
        for begin in range(0, len(sound), BLOCK):
            part = sound[begin : begin + BLOCK]
            self._take(np.pad(part, (0, BLOCK - len(part))))

    def _take(self, spoken: NDArray[np.int16]) -> None:
        begin = len(self._track) * BLOCK
        mixed = spoken + self._noise[begin : begin + BLOCK]
        block = np.clip(np.rint(mixed), -32768, 32767).astype(np.int16)
        self._track.append(block)
        self._conductor.take(Block(block))


def background(wanted: Noise, seed: int) -> NDArray[np.float64]:
    """Noise for a whole recording, `db` below the level of every utterance."""
    level = 32768 * 10 ** ((LEVEL_DBFS - wanted.db) / 20)
    return noise(wanted.name, LONGEST * RATE, seed) * level
