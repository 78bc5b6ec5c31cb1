"""Act, ask again, or ignore: the only place that decides.

The evidence of all listeners becomes one calibrated probability that the likeliest callout was
said (features.py, calibration.py). It is acted on when that probability reaches the bar of its
stakes and nothing in OBJECTIONS stands against it; what is likely enough is asked about.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import isnan
from typing import Final

from voicecheck.callouts import Stakes
from voicecheck.speech.calibration import Calibration, packaged
from voicecheck.speech.candidate import Candidate, keys_of
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.features import (
    features_of,
    loose_ends,
    stands_apart,
)
from voicecheck.speech.grammar import Grammar, dearest
from voicecheck.speech.listener import Word
from voicecheck.speech.phone_fit import LEAST_LEAD
from voicecheck.speech.shortlist import singular_reading
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Unclear, Verdict
from voicecheck.words import say

LOOSE_HEAD: Final = 0.40
"""Seconds of speech before the first word that no word explains: a lost first word."""
LOOSE_TAIL: Final = 0.45
"""The same after the last word; the detector's own tail is longer than its head."""


UNPROVEN: Final = "plain grammar"
"""The set of listeners that no calibration is for: one that proves nothing, alone."""
EVEN: Final = 0.5
"""What is written down as the confidence of a verdict that rests on no probability."""
DEAR_LEAD: Final = 2.0
"""Lead in nats over every other callout that one which closes an item as good must have."""


def decide(
    evidence: Evidence,
    grammar: Grammar,
    calibrations: Mapping[str, Calibration] | None = None,
) -> Verdict:
    """The verdict on one utterance. Pure: the same evidence gives the same verdict.

    calibrations: by set of listeners; the packaged ones unless given.
    """
    utterance = evidence.utterance
    if not utterance.voiced:
        return _ignored(utterance, say("speech-too-short"))
    known = calibrations or packaged()
    if evidence.fit is not None and evidence.listeners not in known:
        evidence = replace(evidence, scores=None)  # nobody knows what this scorer adds
    candidate = candidate_of(evidence, grammar)
    if candidate is None:
        return _ignored(utterance, say("speech-nothing-near"))
    if _is_a_decoy(evidence, grammar):
        return _ignored(utterance, say("speech-decoy"))
    reason = next(
        (
            said
            for object_ in objections_to(evidence)
            if (said := object_(evidence, grammar, candidate))
        ),
        None,
    )
    if evidence.listeners == UNPROVEN:
        return _by_rule(evidence, grammar, candidate, reason)
    calibration = known.get(evidence.listeners)
    if calibration is None:
        return _unclear(utterance, (), say("speech-uncalibrated"))
    return _by_probability(evidence, grammar, candidate, reason, calibration)


def _is_a_decoy(evidence: Evidence, grammar: Grammar) -> bool:
    """Whether a listener that is alone takes it for something that is no callout."""
    others = evidence.scores is not None or evidence.fit is not None
    alone = None if others else evidence.hearing
    return alone is not None and (not alone.rival or grammar.read(alone.rival) is None)


def _by_probability(
    evidence: Evidence,
    grammar: Grammar,
    candidate: Candidate,
    reason: str | None,
    calibration: Calibration,
) -> Verdict:
    """By how sure the listeners are together, and by the objections. reason: the first of these."""
    utterance = evidence.utterance
    probability = calibration.probability(features_of(evidence, grammar, candidate))
    spoken = _spoken(candidate, evidence, probability)
    stakes: Stakes = dearest(candidate.parts)
    if reason is None and probability >= calibration.act[stakes]:
        return Accepted(spoken, spoken[0].start, spoken[-1].end, utterance.decided)
    if probability >= calibration.ask:
        return _unclear(
            utterance, spoken, reason or say("speech-unsure", text=repr(candidate.text))
        )
    return _ignored(utterance, reason or say("speech-unlike", text=repr(candidate.text)))


def _by_rule(
    evidence: Evidence, grammar: Grammar, candidate: Candidate, reason: str | None
) -> Verdict:
    """A listener alone for which there is nothing to calibrate on: any model of any language.

    It is believed only where a mistake would have to take all words for others: where its looks
    agree and no other callout shares a word.
    """
    utterance = evidence.utterance
    spoken = _spoken(candidate, evidence, EVEN)
    if reason is None and not stands_apart(candidate, grammar):
        reason = say("speech-one-shared")
    if reason is None:
        return Accepted(spoken, spoken[0].start, spoken[-1].end, utterance.decided)
    return _unclear(utterance, spoken, reason)


def candidate_of(evidence: Evidence, grammar: Grammar) -> Candidate | None:
    """What was most likely said: by the surest listener that there is."""
    if evidence.fit is not None:
        text = evidence.fit.text
        read = grammar.read(text.split())
        return None if read is None else Candidate(text, read)
    if evidence.scores is not None:
        per_token = evidence.scores.per_token
        ours = [text for text in per_token if grammar.read(text.split()) is not None]
        best = max(ours, key=lambda text: per_token[text], default=None)
        if best is None:
            return None
        parts = grammar.read(best.split())
        assert parts is not None
        return Candidate(best, parts)
    if evidence.hearing is None or not evidence.hearing.words:
        return None
    heard = grammar.read(evidence.hearing.text)
    return None if heard is None else Candidate(" ".join(evidence.hearing.text), heard)


def _cut(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    return None if evidence.utterance.whole else say("speech-too-long")


def _no_numbers(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    """A broken scorer: every comparison with "not a number" is false, so none would object."""
    scores = evidence.scores
    if scores is None:
        return None
    found = (scores.per_token, scores.worst, scores.regret)
    broken = any(isnan(value) for values in found for value in values.values())
    return say("speech-no-scores") if broken else None


def _two_meanings(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    shared = any(part.phrase in grammar.shared for part in candidate.parts)
    return say("speech-two-meanings") if shared else None


def _listeners_differ(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    hearing = evidence.hearing
    if hearing is None:
        return None
    if not hearing.words or keys_of(hearing.text, grammar) != candidate.keys:
        return say("speech-one-heard", text=repr(candidate.text))
    return None


def _more_was_said(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    if evidence.hearing is None or not evidence.hearing.words:
        return None
    head, tail = loose_ends(evidence, evidence.hearing)
    loose = head > LOOSE_HEAD or tail > LOOSE_TAIL
    return say("speech-more-said") if loose else None


def _alone_unsure(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    """A grammar listener alone takes "off" for "on" in noise: its other looks must agree.

    Of a row it is never sure: one part too many or too few costs it little.
    """
    hearing = evidence.hearing
    if hearing is None or evidence.scores is not None:
        return None
    if len(candidate.parts) > 1:
        return say("speech-one-row")
    looks = [hearing.rival, hearing.proof if hearing.proves else hearing.again]
    for words in looks:
        if not words or keys_of(words, grammar) != candidate.keys:
            return say("speech-one-this")
    return None


def _written_otherwise(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    """The scorer, unguided, wrote another callout or its opposite."""
    scores = evidence.scores
    if scores is None or not scores.free:
        return None
    free = singular_reading(scores.free, grammar) or scores.free
    said = keys_of(free.split(), grammar)
    other = said != candidate.keys if said is not None else scores.free in evidence.decoys
    return say("speech-free", text=repr(scores.free)) if other else None


def _outscored(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    """A text of another meaning explains the sound as well, or nearly where that is dear."""
    scores = evidence.scores
    if scores is None:
        return None
    dear = dearest(candidate.parts) is Stakes.CLOSES_GOOD
    for text in scores.per_token:
        said = keys_of(text.split(), grammar)
        if said == candidate.keys or (text == scores.free and said is None):
            continue
        needed = DEAR_LEAD if dear and said is not None else 0.0
        if scores.lead(candidate.text, text) <= needed:
            return say("speech-rival", text=repr(text))
    return None


OBJECTIONS: Final[tuple[Callable[[Evidence, Grammar, Candidate], str | None], ...]] = (
    _cut,
    _no_numbers,
    _two_meanings,
    _listeners_differ,
    _more_was_said,
    _alone_unsure,
    _written_otherwise,
    _outscored,
)
"""What forbids to act, however high the probability; the reason is told."""


def _fits_as_well(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    """Another callout, or what must not be acted on, fits the phones as well."""
    fit = evidence.fit
    if fit is None or fit.least_lead > LEAST_LEAD:
        return None
    return say("speech-rival", text=repr(fit.rival)) if fit.rival else say("speech-decoy")


def _nobody_else(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> str | None:
    """What closes something as good must have been heard by a listener of another upbringing."""
    if dearest(candidate.parts) is not Stakes.CLOSES_GOOD:
        return None
    heard = [evidence.hearing.text] if evidence.hearing is not None else []
    if evidence.scores is not None:
        heard.append(tuple(evidence.scores.free.split()))
    if not heard or any(keys_of(text, grammar) == candidate.keys for text in heard):
        return None
    return say("speech-one-heard", text=repr(candidate.text))


OBJECTIONS_TO_FIT: Final = (
    _cut,
    _no_numbers,
    _two_meanings,
    _fits_as_well,
    _written_otherwise,
    _nobody_else,
)
"""The same where the listener that writes phones leads: what others hear is weighed instead."""


def objections_to(
    evidence: Evidence,
) -> tuple[Callable[[Evidence, Grammar, Candidate], str | None], ...]:
    """Those that hold for the listeners that there are."""
    return OBJECTIONS if evidence.fit is None else OBJECTIONS_TO_FIT


def _spoken(candidate: Candidate, evidence: Evidence, probability: float) -> tuple[Spoken, ...]:
    """Times from the grammar listener's words, else by share of words."""
    utterance = evidence.utterance
    words = _timed(evidence, candidate)
    count = len(candidate.text.split())

    def edge(word: int, *, after: bool) -> float:
        if words:
            known = words[word - 1].end if after else words[word].start
            return round(utterance.offset + known, 3)
        length = utterance.end - utterance.start
        return round(utterance.start + length * word / count, 3)

    return tuple(
        Spoken(
            part.callout.key,
            part.phrase,
            edge(part.first, after=False),
            edge(part.last, after=True),
            round(probability, 3),
        )
        for part in candidate.parts
    )


def _timed(evidence: Evidence, candidate: Candidate) -> tuple[Word, ...]:
    """The candidate's words with times: the grammar listener's, else those of the phones."""
    count = len(candidate.text.split())
    hearing, fit = evidence.hearing, evidence.fit
    if hearing is not None and len(hearing.words) == count:
        return hearing.words
    return fit.words if fit is not None and fit.text == candidate.text else ()


def _ignored(utterance: Utterance, reason: str) -> Ignored:
    return Ignored(utterance.start, utterance.end, utterance.decided, reason)


def _unclear(utterance: Utterance, guess: tuple[Spoken, ...], reason: str) -> Unclear:
    return Unclear(utterance.start, utterance.end, utterance.decided, guess, reason)
