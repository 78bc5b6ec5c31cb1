"""Put a script on stage: the crew waits for the prompts, and repeats what is asked again.

The session runs through the same conductor and prompter as a real one, so prompts take the
time that they will take when the recording is listened to. With words alone every line is
heard as written, which shows whether the script leads to its own truth. With listeners the
crew's sound and the script's noise are really heard: a line that is not understood is said
again, a read-back that asks "affirm?" is answered, and a line that is taken for another
one stops the staging.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.vocabulary import words as words_of
from voicecheck.errors import VoicecheckError
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.rehearsal.script import Line, Noise, Script
from voicecheck.rehearsal.scripted_ear import DECISION, ScriptedEar
from voicecheck.session.hearing import open_hearing
from voicecheck.session.lanes import Hears
from voicecheck.session.options import HearingOptions, VoiceOptions
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.verdict import Accepted, Verdict
from voicecheck.world.acts import Utterance
from voicecheck.world.driver import Recital, play
from voicecheck.world.microphones import Microphones
from voicecheck.world.noise import Unending
from voicecheck.world.sound import Fittings, SoundWay

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
        self.listen = ear.listen
        self.finish = ear.finish
        self.verdicts: list[Verdict] = []

    @property
    def speaking_since(self) -> float | None:
        return self._ear.speaking_since

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        decided = self._ear.feed(samples)
        self.verdicts += decided
        return decided


class Stage(SoundWay):
    """One script being played. listeners None: with words alone."""

    patience = PATIENCE

    def __init__(
        self, script: Script, loaded: Loaded, cache: Path, listeners: HearingOptions | None
    ) -> None:
        self._script = script
        self._joiners = lexicon_of(loaded.language).joiners
        self._ear: ScriptedEar | _Listening = ScriptedEar(loaded)
        if listeners is not None:
            opened = open_hearing(loaded.language, listeners, cache, words_of(loaded.checklist))
            self._ear = _Listening(opened.ear)
        noise = background(script.noise or Noise(name="pink", db=50.0), script.seed)
        talkers = {who: v.talker() for who, v in script.voices.items()}
        super().__init__(
            loaded,
            [self._ear],
            Microphones(noise),
            lambda _: talkers[self._line.who].say(self._line.say),
            cache,
            Fittings(voice=VoiceOptions()),
        )
        self._line = script.lines[0]
        self._wanted: tuple[str, ...] | None = None
        self._placed: list[Placed] = []

    def play(self) -> Staged:
        """The whole script. Raises VoicecheckError when a line leads elsewhere."""
        script = self._script
        try:
            self.conductor.begin(second=script.crew.second is not None)
            play(Recital(self._course()), self)
            while self.now < self._placed[-1].end + TAIL:
                self.let(self.now)
            result = self.conductor.end("the recording ended")
        finally:
            self.voice.close()
        extra = len(self._placed) - len(script.lines)
        return Staged(tuple(self._placed), result, self.sound, extra)

    def _course(self) -> Iterator[Utterance]:
        for line in self._script.lines:
            wanted: tuple[str, ...] | None = None if line.meant else ()
            for _ in range(REPEATS + 1):
                yield from self._say(line, wanted)
                wanted = self._placed[-1].callouts
                if (yield from self._understood(line)):
                    break
                line = line.model_copy(update={"gap": None})
            else:
                raise VoicecheckError(
                    f"{self.now:.1f} s: {line.say!r} was not understood, said {REPEATS + 1} times; "
                    "change its words, its voice or the noise"
                )

    def _understood(self, line: Line) -> Generator[Utterance, None, bool]:
        heard, wanted = self._acted_on, self._placed[-1].callouts
        if heard == wanted:
            return True
        if heard:
            raise VoicecheckError(
                f"{self.now:.1f} s: {line.say!r} was taken for {', '.join(heard)}; change its words"
            )
        question = self.engine.state.question
        if question is None or not question.claims:
            return False
        answer = line.model_copy(update={"gap": None})
        if tuple(claim.callout for claim in question.claims) == wanted:
            answer = answer.model_copy(update={"say": "affirmative"})
            yield from self._say(answer, ("command:affirm",))
            return bool(self._acted_on)
        if question.claims[0].callout not in wanted:
            answer = answer.model_copy(update={"say": "negative"})
            yield from self._say(answer, ("command:negative",))
        return False

    def _say(self, line: Line, wanted: tuple[str, ...] | None) -> Iterator[Utterance]:
        """wanted: callouts that it means; None for those that it means as it is said."""
        self._line, self._wanted = line, wanted
        yield Utterance(0, (), line.say, line.pause)

    @property
    def _acted_on(self) -> tuple[str, ...]:
        """The callouts that came of what was said last."""
        if isinstance(self._ear, ScriptedEar):
            return self._placed[-1].callouts
        accepted = [v for v in self._ear.verdicts if isinstance(v, Accepted)]
        return tuple(part.callout for verdict in accepted for part in verdict.spoken)

    @property
    def answered(self) -> bool:
        """Whether there is a verdict; words alone are not waited for."""
        return isinstance(self._ear, ScriptedEar) or bool(self._ear.verdicts)

    def turn(self, said: Utterance, begin: float | None) -> float:
        """After its gap, whatever the prompts do; else after the prompts and its pause."""
        if begin is not None and begin < float("inf"):
            return begin
        before = self._placed[-1].end if self._placed else 0.0
        if self._line.gap is not None:
            return before + self._line.gap
        if self.now < before + DECISION + 0.1 or not self.voice.prompter.idle:
            return float("inf")
        return self.now + said.pause

    def utter(self, said: Utterance) -> float:
        """Place it, as a callout that is on offer at this moment if it is meant."""
        start, end = self.now, super().utter(said)
        wanted = self._meaning(said.words) if self._wanted is None else self._wanted
        placed = Placed(self._line.who, said.words, self._left, start, wanted)
        self._placed.append(placed)
        if isinstance(self._ear, ScriptedEar):
            self._ear.hear(self._line, start, placed.end)
        else:
            self._ear.verdicts.clear()
        return end

    def _meaning(self, words: str) -> tuple[str, ...]:
        offered = tuple(offer.callout for offer in self.engine.offers().values())
        parts = Grammar(offered, self._joiners).read(words.split())
        if parts is None:
            raise VoicecheckError(f"{self.now:.1f} s: {words!r} is not on offer; mend the script")
        return tuple(part.callout.key for part in parts)


def background(wanted: Noise, seed: int) -> Unending:
    """Noise for a whole recording, made in one piece, `db` below the level of every utterance."""
    return Unending(wanted.name, wanted.db, seed, piece=LONGEST * RATE, fade=0)
