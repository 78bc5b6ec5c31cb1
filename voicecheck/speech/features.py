"""What is known of one utterance and one candidate, as numbers that a calibration can weigh.

Every feature is bounded, so that no single one can outvote the rest however far out it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log
from typing import Final

from rapidfuzz import fuzz
from rapidfuzz.distance import Levenshtein

from voicecheck.speech import fused
from voicecheck.speech.candidate import Candidate, keys_of, within
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.listener import Hearing, Scores
from voicecheck.speech.phone_fit import Fit
from voicecheck.speech.sounds import likeness

PHONE_SECONDS: Final = 0.075
"""Usual length of a phone in a short callout (measured on the calibration talkers)."""
EDGE_SECONDS: Final = 0.15
"""What the speech detector adds to the words at both ends together."""
AT_SECOND_LOOK: Final = 0.5
"""What it counts that a grammar listener hears the same, but only when it looks again."""
FARTHEST: Final = 6
"""Phones from which another wording is simply far."""


def features_of(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> dict[str, float]:
    """Name -> value, for the listeners that there are; a listener that is not gives none."""
    if evidence.fit is not None:
        return _fused(evidence, grammar, candidate, evidence.fit)
    found = dict(_of_wording(evidence, grammar, candidate))
    if evidence.hearing is not None:
        found |= _of_grammar(evidence, grammar, candidate, evidence.hearing)
    if evidence.scores is not None:
        found |= _of_scores(evidence, grammar, candidate, evidence.scores)
    return found


def _fused(
    evidence: Evidence, grammar: Grammar, candidate: Candidate, fit: Fit
) -> dict[str, float]:
    """Where the listener that writes phones leads: the others' witness is all that counts."""
    found = fused.of_fit(fit)
    if evidence.hearing is not None:
        found |= fused.of_witness(evidence.hearing, grammar, candidate)
    if evidence.scores is not None:
        found |= fused.of_scores(evidence.scores, grammar, candidate)
    return found


def _of_wording(evidence: Evidence, grammar: Grammar, candidate: Candidate) -> dict[str, float]:
    """The wording itself: how long it should take, and how near the next one is."""
    utterance = evidence.utterance
    phones = len(_phones(candidate.text, evidence.sounds))
    usual = EDGE_SECONDS + PHONE_SECONDS * phones
    stretch = log(max(utterance.end - utterance.start, 0.05) / usual)
    return {
        "longer": within(stretch, 0, 1.5),
        "shorter": within(-stretch, 0, 1.5),
        "phones": within(phones / 10, 0, 2.5),
        "next wording": _nearest(candidate, grammar, evidence) / FARTHEST,
        "row": float(len(candidate.parts) > 1),
    }


def _of_grammar(
    evidence: Evidence, grammar: Grammar, candidate: Candidate, hearing: Hearing
) -> dict[str, float]:
    """What the grammar listener says of the candidate, with and without decoys."""
    keys = candidate.keys
    agrees = bool(hearing.words) and keys_of(hearing.text, grammar) == keys
    head, tail = loose_ends(evidence, hearing) if agrees else (0.0, 0.0)
    rival = hearing.rival or ()
    found = {
        "agrees": float(agrees) if hearing.first is None else agrees * AT_SECOND_LOOK,
        "rival agrees": _says(rival, grammar, keys),
        "rival alike": fuzz.ratio(" ".join(rival), candidate.text) / 100,
        "loose head": within(head, 0, 0.8),
        "loose tail": within(tail, 0, 0.8),
    }
    if hearing.proves:
        found |= _of_proof(evidence, candidate, hearing.proof if agrees else (), hearing)
    if evidence.scores is None and not hearing.proves:
        found["again agrees"] = _says(hearing.again or (), grammar, keys)
    if evidence.scores is None:
        found["stands apart"] = float(stands_apart(candidate, grammar))
    return found


def _says(words: Sequence[str], grammar: Grammar, keys: Sequence[str]) -> float:
    return float(bool(words) and keys_of(words, grammar) == keys)


def _of_proof(
    evidence: Evidence, candidate: Candidate, proof: Sequence[str], hearing: Hearing
) -> dict[str, float]:
    alike = likeness(candidate.text, " ".join(proof), evidence.sounds) if proof else 0.0
    return {
        "proven": float(proof == hearing.text and bool(proof)),
        "proof alike": 0.0 if alike is None else alike,
    }


def _of_scores(
    evidence: Evidence, grammar: Grammar, candidate: Candidate, scores: Scores
) -> dict[str, float]:
    """How the scorer compares the candidate with its rivals and with its own free text."""
    text, keys = candidate.text, candidate.keys
    others, decoys = [], []
    for rival in scores.per_token:
        if rival == scores.free and keys_of(rival.split(), grammar) is None:
            continue  # its own writing is weighed by ratio and likeness
        said = keys_of(rival.split(), grammar)
        if said is None:
            decoys.append(scores.lead(text, rival))
        elif said != keys:
            others.append(scores.lead(text, rival))
    free = scores.free
    alike = likeness(text, free, evidence.sounds) if free else None
    more = len(free.split()) - len(text.split()) if free else 0
    regret = {"regret": within(-scores.regret[text], -20, 0)} if scores.regret else {}
    return regret | {
        "score": within(scores.per_token[text], -6, 0),
        "total": within(scores.per_token[text] * scores.tokens[text], -25, 0),
        "worst token": within(scores.worst.get(text, scores.per_token[text]), -10, 0),
        "ratio": within(scores.ratio(text), -5, 0.5),
        "lead over others": within(min(others, default=10.0), -4, 10),
        "lead over decoys": within(min(decoys, default=10.0), -4, 10),
        "written alike": fuzz.ratio(free, text) / 100,
        "written the same": float(bool(free) and keys_of(free.split(), grammar) == keys),
        "sounds alike": 0.5 if alike is None else alike,
        "words more": within(more, 0, 3),
        "words fewer": within(-more, 0, 3),
    }


def loose_ends(evidence: Evidence, hearing: Hearing) -> tuple[float, float]:
    """Seconds of speech before the first and after the last word that no word explains."""
    utterance, words = evidence.utterance, hearing.words
    head = utterance.offset + words[0].start - utterance.start
    tail = utterance.end - (utterance.offset + words[-1].end)
    return head, tail


def stands_apart(candidate: Candidate, grammar: Grammar) -> bool:
    """No callout that means something else has a word in common with this wording."""
    words = set(candidate.text.split())
    keys = candidate.keys
    others = (p for p, callout in grammar.phrases.items() if callout.key not in keys)
    return all(words.isdisjoint(phrase.split()) for phrase in others)


def _nearest(candidate: Candidate, grammar: Grammar, evidence: Evidence) -> float:
    """Phones from the part of the candidate that lies nearest to a wording of other meaning."""
    nearest = FARTHEST
    for part in candidate.parts:
        mine = _phones(part.phrase, evidence.sounds)
        others = [p for p, c in grammar.phrases.items() if c.key != part.callout.key]
        for phrase in (*others, *evidence.decoys):
            apart = Levenshtein.distance(
                mine, _phones(phrase, evidence.sounds), score_cutoff=FARTHEST
            )
            nearest = min(nearest, apart)
    return nearest


def _phones(text: str, sounds: Mapping[str, tuple[str, ...]]) -> list[str]:
    """Phones of a text; letters stand for those of a word that no dictionary knows."""
    return [phone for word in text.split() for phone in sounds.get(word, tuple(word))]


DIRECTIONS: Final[Mapping[str, int]] = {
    **fused.DIRECTIONS,
    **dict.fromkeys(
        (
            *("agrees", "rival agrees", "rival alike", "again agrees", "proven"),
            "proof alike",
            *(
                "regret",
                "score",
                "total",
                "worst token",
                "ratio",
                "lead over others",
                "lead over decoys",
            ),
            *("written alike", "written the same", "sounds alike"),
        ),
        1,
    ),
    **dict.fromkeys(
        ("longer", "shorter", "loose head", "loose tail", "words more", "words fewer"), -1
    ),
}
"""Feature -> 1 where more of it can only speak for the candidate, -1 where against it.

A calibration keeps to this, whatever a corpus says: better evidence never lowers the
probability. Features that are not named may count either way.
"""
