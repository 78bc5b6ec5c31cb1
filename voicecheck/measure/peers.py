"""Other ways to hear the same utterances: what a user would otherwise put together.

Each gives one answer and a score; whoever uses it would act from some score on. All hear the
utterances that our own endpointer cut, so that only the recognition differs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, log
from pathlib import Path
from time import perf_counter
from typing import Any, Final, Protocol

import numpy as np
from rapidfuzz import fuzz, process

from voicecheck.measure.trial import Task
from voicecheck.speech.acceptance import candidate_of, objections_to
from voicecheck.speech.calibration import packaged
from voicecheck.speech.candidate import keys_of
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.features import features_of
from voicecheck.speech.grammar import Grammar, dearest
from voicecheck.speech.spelling import spelled

NEVER: Final = -1e9
"""Score of an answer on which nobody should act."""


@dataclass(frozen=True, slots=True)
class Answer:
    """keys: callouts heard, empty for none; score: higher is surer; seconds: of computing."""

    keys: tuple[str, ...]
    score: float
    seconds: float = 0.0


class Peer(Protocol):
    """Hears one utterance against a grammar."""

    @property
    def name(self) -> str:
        """As the table shows it."""
        ...

    @property
    def acts_from(self) -> float:
        """Score from which its usual user would act."""
        ...

    def hear(self, utterance: Utterance, grammar: Grammar) -> Answer:
        """One utterance, 16 kHz int16 with some quiet on both sides."""
        ...


class BareGrammar:
    """PocketSphinx as its examples show it: one grammar, the first result taken."""

    name = "PocketSphinx, first result"
    acts_from = 0.0

    def __init__(self, pronunciations: dict[str, tuple[str, ...]]) -> None:
        from pocketsphinx import Decoder

        self._decoder: Any = Decoder(lm=None, loglevel="FATAL")
        self._compiled: Grammar | None = None
        for word, sounds in pronunciations.items():
            if self._decoder.lookup_word(word) is None:
                self._decoder.add_word(word, sounds[0], True)

    def hear(self, utterance: Utterance, grammar: Grammar) -> Answer:
        """Score 0 for a whole phrase, else NEVER."""
        if grammar != self._compiled:
            self._decoder.add_jsgf_string("bare", grammar.jsgf().encode())
            self._decoder.activate_search("bare")
            self._compiled = grammar
        began = perf_counter()
        self._decoder.start_utt()
        self._decoder.process_raw(utterance.samples.astype("<i2").tobytes(), False, True)
        self._decoder.end_utt()
        heard = self._decoder.hyp()
        took = perf_counter() - began
        keys = keys_of(heard.hypstr.split(), grammar) if heard is not None else None
        return Answer(keys or (), 0.0 if keys else NEVER, took)


class FreeText:
    """A Whisper model writes freely; the most alike callout in writing is taken."""

    name = "Whisper's free text + fuzzy match"
    acts_from = 80.0
    """Likeness in per cent from which such programs usually act (common practice, no source)."""

    def __init__(self, folder: Path, language: str) -> None:
        from faster_whisper import WhisperModel

        self._model: Any = WhisperModel(str(folder), device="cpu", compute_type="int8")
        self._language = language

    def hear(self, utterance: Utterance, grammar: Grammar) -> Answer:
        """Score: likeness of the text to the callout, 0..100."""
        began = perf_counter()
        sound = (utterance.samples / 32768).astype(np.float32)
        segments, _ = self._model.transcribe(
            sound, language=self._language, beam_size=5, condition_on_previous_text=False
        )
        text = spelled(" ".join(segment.text for segment in segments))
        answer = matched(text, grammar)
        return replace(answer, seconds=perf_counter() - began)


def matched(text: str, grammar: Grammar) -> Answer:
    """The callouts that free text says, else the one most alike in writing; score: 0..100."""
    keys = keys_of(text.split(), grammar)
    if keys:
        return Answer(keys, 100.0)
    best = process.extractOne(text, list(grammar.phrases), scorer=fuzz.ratio)
    if best is None:
        return Answer((), NEVER)
    return Answer((grammar.phrases[best[0]].key,), float(best[1]))


def ours(evidence: Evidence, grammar: Grammar) -> Answer:
    """The answer of our acceptance; score: log odds over the bar of its stakes."""
    candidate = candidate_of(evidence, grammar)
    if candidate is None:
        return Answer((), NEVER)
    calibration = packaged()[evidence.listeners]
    probability = calibration.probability(features_of(evidence, grammar, candidate))
    if any(object_(evidence, grammar, candidate) for object_ in objections_to(evidence)):
        return Answer(candidate.keys, NEVER)
    bar = calibration.act[dearest(candidate.parts)]
    return Answer(candidate.keys, _odds(probability) - _odds(bar))


def _odds(probability: float) -> float:
    kept = min(max(probability, exp(-30.0)), 1 - 1e-13)
    return log(kept / (1 - kept))


@dataclass(frozen=True, slots=True)
class Given:
    """The answers of one way of hearing to all utterances, beside what was said in them."""

    name: str
    acts_from: float
    answers: tuple[tuple[Task, Answer], ...]

    def right(self, score: float) -> tuple[int, int]:
        """Of the callouts said, those acted on rightly from that score on; and all of them."""
        said = [(task, a) for task, a in self.answers if task.said]
        return sum(a.keys == t.said and a.score >= score for t, a in said), len(said)

    def false(self, score: float) -> tuple[int, int]:
        """Utterances acted on wrongly from that score on; and all of them."""
        acted = [(t, a) for t, a in self.answers if a.keys and a.score >= score]
        return sum(a.keys != t.said for t, a in acted), len(self.answers)

    def curve(self) -> tuple[tuple[float, float], ...]:
        """(share acted on wrongly, share of callouts right) for every score, strictest first."""
        scores = sorted({a.score for _, a in self.answers if a.score > NEVER}, reverse=True)
        points = []
        for score in scores:
            (right, said), (false, every) = self.right(score), self.false(score)
            points.append((false / max(every, 1), right / max(said, 1)))
        return tuple(points)


def median_ms(answers: Sequence[tuple[Task, Answer]]) -> float | None:
    """Median computing time in ms; None where it was not taken."""
    taken = [answer.seconds for _, answer in answers if answer.seconds]
    return round(1000 * float(np.median(taken)), 1) if taken else None
