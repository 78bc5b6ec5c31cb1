"""The ear of one channel: samples in, verdicts out, in stream time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from threading import Event
from time import perf_counter
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.callouts import Callout, Stakes
from voicecheck.meaning.network import Network
from voicecheck.speech.acceptance import candidate_of, decide
from voicecheck.speech.apart import Apart
from voicecheck.speech.boundaries import bounded
from voicecheck.speech.candidate import Candidate, keys_of
from voicecheck.speech.close import confirmed_first, to_be_confirmed
from voicecheck.speech.ctc import Floats
from voicecheck.speech.decoys import decoys_of
from voicecheck.speech.endpoint import BLOCK, RATE, Endpointer, Utterance
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import (
    Follows,
    Hearing,
    Listener,
    LooksAgain,
    Proves,
    Scorer,
    Scores,
)
from voicecheck.speech.phone_fit import Fit
from voicecheck.speech.phone_listener import PhoneListener
from voicecheck.speech.shortlist import shortlist
from voicecheck.speech.verdict import Accepted, Ignored, Verdict
from voicecheck.speech.wide import asked_about, heard_by, read_back_first
from voicecheck.words import say

LET_OFF: Final = 0.5
"""Seconds at most that the grammar listener waits for the scorer to have begun."""
LATER: Final = 0.005
"""Seconds by which the sound of a second look is shifted."""


class Ear:
    """Depends on nothing but the samples and the callouts: any blocking, same verdicts.

    A new set of callouts takes effect at the next utterance. Who feeds large blocks gets
    several verdicts at once, all under the callouts of before: feed 0.1 s or less where
    one verdict changes what can be said next.
    """

    def __init__(
        self,
        endpointer: Endpointer,
        listener: Listener,
        scorer: Scorer | None,
        lexicon: Lexicon,
        sounds: Mapping[str, tuple[str, ...]],
        apart: Apart | None = None,
        phones: PhoneListener | None = None,
    ) -> None:
        """sounds: word -> phones, for telling words apart; empty where none are known.

        apart: distances between wordings; None: none is close enough to be asked about.
        phones: leads where it can tell, and the other listeners are its witnesses.
        """
        self._endpointer = endpointer
        self._listener = listener
        self._scorer = scorer
        self._lexicon = lexicon
        self._sounds = sounds
        self._apart = apart
        self._phones = phones
        self._close: frozenset[str] = frozenset()
        self._grammar = Grammar((), lexicon.joiners)
        self._network = Network({}, {})
        self._waiting: Grammar | None = None
        self._left = np.zeros(0, np.int16)
        self._kept: tuple[float, Verdict] | None = None
        """End of the utterance in progress when it last paused, and the verdict then."""
        self._fed = 0
        self.last: Evidence | None = None
        """What the latest verdict rested on, for the record."""
        self.failed: str | None = None
        """Why the scorer is not asked any more: it broke down, and one listener goes on alone."""
        self.spent: dict[str, float] = {}
        """Seconds of computing that the latest verdict took, by stage; no verdict uses them."""

    def anew(self, endpointer: Endpointer) -> Ear:
        """An ear that has heard nothing yet, with the same listeners and callouts."""
        ear = Ear(
            endpointer,
            self._listener,
            self._scorer,
            self._lexicon,
            self._sounds,
            self._apart,
            self._phones,
        )
        ear._grammar = self._waiting or self._grammar
        ear._close = ear._too_close(ear._grammar)
        ear._network = self._network
        if ear._grammar != self._grammar:
            ear._compile(ear._grammar)
        return ear

    @property
    def now(self) -> float:
        """Seconds of stream time fed so far."""
        return self._fed / RATE

    @property
    def speaking_since(self) -> float | None:
        """Start of the utterance in progress in seconds, else None."""
        return self._endpointer.speaking_since

    def understand(self, network: Network) -> None:
        """What else may be said for the callouts, from the next `listen` on."""
        self._network = network

    def listen(self, callouts: Sequence[Callout]) -> None:
        """Hear these from the next utterance on. Raises VoicecheckError for unsayable words."""
        wide = heard_by(self._listener.name, self._network, tuple(callouts))
        grammar = Grammar(tuple(callouts), self._lexicon.joiners, wide)
        if self.speaking_since is None:
            self._use(grammar)
        else:
            self._waiting = grammar

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        """16 kHz mono int16 of any length; the verdicts of utterances that ended in it."""
        self._fed += samples.size
        sound = np.concatenate([self._left, samples]) if self._left.size else samples
        verdicts = []
        whole = sound.size // BLOCK * BLOCK
        for at in range(0, whole, BLOCK):
            utterance = self._endpointer.feed(sound[at : at + BLOCK])
            verdict = self._pause() if utterance is None else self._judge(utterance)
            if verdict is not None:
                verdicts.append(verdict)
        self._left = sound[whole:].copy()
        return verdicts

    def finish(self) -> list[Verdict]:
        """The stream ended: judge what is still open."""
        if self._left.size:
            rest = np.pad(self._left, (0, BLOCK - self._left.size))
            self._left = np.zeros(0, np.int16)
            ended = self._endpointer.feed(rest)
            if ended is not None:
                return [self._judge(ended)]
        utterance = self._endpointer.finish()
        return [] if utterance is None else [self._judge(utterance)]

    def _use(self, grammar: Grammar) -> None:
        self._waiting = None
        if grammar == self._grammar:
            return
        if grammar.callouts:
            self._compile(grammar)
        self._grammar = grammar
        self._close = self._too_close(grammar)

    def _compile(self, grammar: Grammar) -> None:
        self._listener.listen(grammar)
        if self._phones is not None:
            self._phones.listen(grammar)

    def _too_close(self, grammar: Grammar) -> frozenset[str]:
        return frozenset() if self._apart is None else to_be_confirmed(grammar, self._apart)

    def _pause(self) -> Verdict | None:
        """In a short pause: judge what was said so far, and keep it in case that was all.

        It ends there if it is acted on, cannot go on to mean something else and closes nothing
        as good. Everything else waits for the long silence, but not for the listeners again.
        """
        if self._endpointer.pausing:
            utterance = self._endpointer.so_far()
            verdict = self._verdict(utterance)
            if isinstance(verdict, Accepted) and self._ends(verdict):
                self._endpointer.end()
                return self._done(verdict)
            self._kept = (utterance.end, verdict)
        elif isinstance(self._listener, Follows) and self._grammar.callouts:
            self._listener.follow(self._endpointer.kept)
        return None

    def _ends(self, verdict: Accepted) -> bool:
        stakes = {callout.key: callout.stakes for callout in self._grammar.callouts}
        good = any(stakes[s.callout] is Stakes.CLOSES_GOOD for s in verdict.spoken)
        return not good and not self._may_go_on(verdict)

    def _may_go_on(self, verdict: Accepted) -> bool:
        begun = verdict.spoken[-1].words + " "
        return any(phrase.startswith(begun) for phrase in self._grammar.phrases)

    def _judge(self, utterance: Utterance) -> Verdict:
        if self._kept is not None and self._kept[0] == utterance.end and utterance.whole:
            return self._done(replace(self._kept[1], decided=utterance.decided))
        return self._done(self._verdict(utterance))

    def _done(self, verdict: Verdict) -> Verdict:
        self._kept = None
        if self._waiting is not None:
            self._use(self._waiting)
        return verdict

    def _verdict(self, utterance: Utterance) -> Verdict:
        grammar = self._grammar
        self.last = None
        self.spent = {}
        times = (utterance.start, utterance.end, utterance.decided)
        if not grammar.callouts:
            return Ignored(*times, say("speech-nothing-wanted"))
        if not utterance.voiced:
            return Ignored(*times, say("speech-too-short"))
        began = perf_counter()
        hearing, scores, fit = self._listened(utterance.samples, grammar)
        evidence = Evidence(utterance, hearing, scores, sounds=self._sounds, fit=fit)
        likeliest = candidate_of(evidence, grammar)
        differs = likeliest is not None and keys_of(hearing.text, grammar) != likeliest.keys
        if fit is None and likeliest is not None and differs:
            evidence = self._looked_again(evidence, hearing, likeliest)
        scored = perf_counter()
        about = [" ".join(hearing.text), *([likeliest.text] if likeliest else [])]
        decoys = decoys_of(filter(None, about), grammar, self._lexicon)
        self.last = replace(evidence, decoys=frozenset(decoys))
        verdict = bounded(decide(self.last, grammar), utterance)
        verdict = read_back_first(confirmed_first(verdict, self._close), grammar)
        verdict = asked_about(verdict, self.last, grammar, self._network)
        decided = perf_counter()
        self.spent["listening"] = scored - began
        self.spent["deciding"] = decided - scored
        return verdict

    def _listened(
        self, samples: NDArray[np.int16], grammar: Grammar
    ) -> tuple[Hearing, Scores | None, Fit | None]:
        """All listeners: the scorer encodes while the grammar is decoded."""
        frames = self._written(samples)
        scorer = self._scorer
        if scorer is None:
            hearing, fit = self._alone(samples, grammar, frames)
            return hearing, None, fit
        heard: Future[tuple[Hearing, Fit | None]] = Future()
        begun, compared = Event(), Event()
        ours: list[BaseException] = []

        def score() -> Scores:
            begun.set()
            return scorer.score(samples, propose)

        def propose(free: str) -> Sequence[str]:
            try:
                texts = shortlist(*heard.result(), free, grammar, self._lexicon)
            except BaseException as error:
                ours.append(error)
                raise
            compared.set()
            return texts

        with ThreadPoolExecutor(1) as pool:
            scoring = pool.submit(score)
            try:
                # PocketSphinx lets no other thread of Python go on: the scorer is let off first.
                begun.wait(LET_OFF)
                hearing, fit = self._grammar_heard(samples, frames)
            except BaseException as error:
                heard.set_exception(error)
                raise
            heard.set_result((hearing.trimmed(grammar.joiners), fit))
            compared.wait(LET_OFF)
            if fit is None:
                hearing = self._proved(hearing)
            try:
                return hearing.trimmed(grammar.joiners), scoring.result(), fit
            except Exception as error:  # native code raises classes of its own
                if ours:
                    raise
                self._scorer, self.failed = None, " ".join(str(error).split()) or repr(error)
        hearing, fit = self._alone(samples, grammar, frames)
        return hearing, None, fit

    def _written(self, samples: NDArray[np.int16]) -> Floats | None:
        """What the listener that writes phones makes of the sound, for all phrases."""
        if self._phones is None:
            return None
        began = perf_counter()
        try:
            return self._phones.frames(samples)
        except Exception as error:  # native code raises classes of its own
            self._phones, self.failed = None, " ".join(str(error).split()) or repr(error)
            return None
        finally:
            self.spent["phones"] = perf_counter() - began

    def _grammar_heard(
        self, samples: NDArray[np.int16], frames: Floats | None
    ) -> tuple[Hearing, Fit | None]:
        began = perf_counter()
        hearing = self._listener.hear(samples)
        self.spent["grammar listener"] = perf_counter() - began
        if self._phones is None or frames is None:
            return hearing, None
        read = hearing.trimmed(self._grammar.joiners)
        return hearing, self._phones.fit(frames, [" ".join(read.text), " ".join(read.rival or ())])

    def _looked_again(self, evidence: Evidence, first: Hearing, likeliest: Candidate) -> Evidence:
        """The listeners differ: does the grammar listener hear it too, at a second look?

        It wavers where its best two paths are nearly as good; what it is sure of stays.
        """
        samples = evidence.utterance.samples
        if isinstance(self._listener, LooksAgain):
            second = self._listener.look_again(samples)
        else:
            second = _earlier(self._listener.hear(_altered(samples)))
        second = self._proved(second).trimmed(self._grammar.joiners)
        if keys_of(second.text, self._grammar) != likeliest.keys:
            return evidence
        return replace(evidence, hearing=replace(second, first=first))

    def _alone(
        self, samples: NDArray[np.int16], grammar: Grammar, frames: Floats | None
    ) -> tuple[Hearing, Fit | None]:
        """Without a scorer."""
        hearing, fit = self._grammar_heard(samples, frames)
        if fit is not None:
            return hearing.trimmed(grammar.joiners), fit
        hearing = self._proved(hearing).trimmed(grammar.joiners)
        if hearing.proves or grammar.read(hearing.text) is None:
            return hearing, None
        again = self._listener.hear(_altered(samples)).text
        return replace(hearing, again=again).trimmed(grammar.joiners), None

    def _proved(self, hearing: Hearing) -> Hearing:
        return self._listener.prove(hearing) if isinstance(self._listener, Proves) else hearing


def _earlier(hearing: Hearing) -> Hearing:
    """With the times of the sound before it was altered."""
    words = (
        replace(word, start=max(0.0, word.start - LATER), end=word.end - LATER)
        for word in hearing.words
    )
    return replace(hearing, words=tuple(words))


def _altered(samples: NDArray[np.int16]) -> NDArray[np.int16]:
    """The same sound, a little later and at half the level: what is certain survives it."""
    return np.concatenate([samples[: int(LATER * RATE)], samples]) // 2
