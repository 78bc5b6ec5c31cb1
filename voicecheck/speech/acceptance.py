"""Act, ask again, or ignore: the only place that decides.

Two dissimilar listeners give evidence; neither is believed alone. All thresholds stand in
one table below, by what a mistake would cost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from voicecheck.callouts import Stakes
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.grammar import Grammar, Part, dearest
from voicecheck.speech.listener import Hearing, Scores, Word
from voicecheck.speech.sounds import likeness
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Unclear, Verdict


@dataclass(frozen=True, slots=True)
class Bar:
    """What the scorer's evidence must reach before both listeners are believed.

    other: lead in nats over the next callout that means something else.
    decoy: lead in nats over the best decoy (a decoy that was said leads by 10 and more).
    ratio: score per token less that of the scorer's own free text (0 is the best).
    floor: score per token.
    """

    other: float
    decoy: float
    ratio: float
    floor: float


# Over twelve synthetic voices, clean and in noise, callouts that were said reach (5th to
# 50th percentile) other 4 to 11, decoy 4 to 9, ratio -1.6 to 0; opposites and near misses
# that fooled the grammar listener stay below at least one of these.
BARS: Final = {
    Stakes.CLOSES_GOOD: Bar(other=3.5, decoy=1.5, ratio=-2.4, floor=-3.6),
    Stakes.ADVANCES: Bar(other=3.5, decoy=1.5, ratio=-2.5, floor=-3.7),
    Stakes.RECORDS_BAD: Bar(other=3.0, decoy=0.5, ratio=-2.6, floor=-3.9),
    Stakes.ASKS: Bar(other=2.5, decoy=0.5, ratio=-3.0, floor=-4.2),
}
PART: Final = 0.5
"""Lead in nats over the same row with a part left out: both listeners heard that part."""
DOUBT: Final = Bar(other=5.0, decoy=5.0, ratio=-1.2, floor=-2.5)
"""For any callout when the grammar listener itself prefers a decoy."""
PLAUSIBLE: Final = -2.8
"""Ratio above which speech was plausibly meant for us, so that asking is worth it."""
AGREED: Final = -3.6
"""The same where both listeners name the same callout."""
UNLIKE: Final = 0.21
"""Likeness in sound of the free text's differing words up to which it is another word,"""
WRITTEN: Final = -1.3
"""where the scorer also prefers its free text to the callout by this ratio or more."""
LOOSE_HEAD: Final = 0.40
"""Seconds of speech before the first word that no word explains: a lost first word."""
LOOSE_TAIL: Final = 0.45
"""The same after the last word; the detector's own tail is longer than its head."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that is known of one utterance."""

    utterance: Utterance
    hearing: Hearing
    scores: Scores | None
    decoys: frozenset[str] = frozenset()
    """Texts one meaning away from what the grammar listener heard."""
    sounds: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Phones of words, where a pronouncing dictionary of the language is at hand."""


def decide(evidence: Evidence, grammar: Grammar) -> Verdict:
    """The verdict on one utterance. Pure: the same evidence gives the same verdict."""
    utterance = evidence.utterance
    if not utterance.voiced:
        return _ignored(utterance, "too short to be words")
    parts = grammar.read(evidence.hearing.text) if evidence.hearing.words else None
    if evidence.scores is None:
        return _alone(evidence, grammar, parts)
    return _together(evidence, grammar, parts, evidence.scores)


def _together(
    evidence: Evidence, grammar: Grammar, parts: tuple[Part, ...] | None, scores: Scores
) -> Verdict:
    utterance, hearing = evidence.utterance, evidence.hearing
    ours = {text: read for text in scores.per_token if (read := grammar.read(text.split()))}
    if not ours:
        return _ignored(utterance, "no callout comes near it")
    best = max(ours, key=lambda text: scores.per_token[text])
    ratio = scores.ratio(best)
    agreed = parts is not None and _keys(parts) == _keys(ours[best])
    if parts is not None and agreed:
        spoken = _spoken(parts, hearing, utterance, ratio)
        reason = _objection(evidence, grammar, parts, scores, best)
        if reason is None:
            return Accepted(spoken, spoken[0].start, spoken[-1].end, utterance.decided)
    else:
        spoken = _spoken_evenly(ours[best], best, utterance, ratio)
        reason = f"only one listener heard {best!r}"
    if ratio >= (AGREED if agreed else PLAUSIBLE):
        return _unclear(utterance, spoken, reason)
    return _ignored(utterance, reason)


def _objection(
    evidence: Evidence, grammar: Grammar, parts: tuple[Part, ...], scores: Scores, best: str
) -> str | None:
    """Why not to act on what both listeners heard, or None."""
    keys = _keys(parts)
    if not evidence.utterance.whole:
        return "too long for a callout"
    if any(part.phrase in grammar.shared for part in parts):
        return "the wording means two things here"
    if _loose(evidence):
        return "more was said than the callout"
    bar = BARS[dearest(parts)]
    rival = grammar.read(evidence.hearing.rival) if evidence.hearing.rival else None
    written = grammar.read(scores.free.split()) if scores.free else None
    if written is not None and _keys(written) == keys:
        bar = replace(bar, decoy=PART)  # unguided it wrote this callout, not the decoy
    elif evidence.hearing.rival is not None and (rival is None or _keys(rival) != keys):
        bar = DOUBT
    for text in scores.per_token:
        read = grammar.read(text.split())
        if read is not None and _keys(read) == keys:
            continue
        if text == scores.free and (read is not None or text in evidence.decoys):
            return f"written freely it is {text!r}"
        if text == scores.free:
            continue
        if scores.lead(best, text) < _needed(bar, keys, read):
            return f"{text!r} is nearly as likely"
    if scores.per_token[best] < bar.floor or scores.ratio(best) < bar.ratio:
        return "unlike the callout it resembles most"
    alike = likeness(best, scores.free, evidence.sounds) if scores.free else None
    if alike is not None and alike <= UNLIKE and scores.ratio(best) <= WRITTEN:
        return f"written freely it is {scores.free!r}"
    return None


def _needed(bar: Bar, keys: tuple[str, ...], read: tuple[Part, ...] | None) -> float:
    if read is None:
        return bar.decoy
    rest = iter(keys)
    left_out = all(key in rest for key in _keys(read))
    return PART if left_out else bar.other


def _alone(evidence: Evidence, grammar: Grammar, parts: tuple[Part, ...] | None) -> Verdict:
    """One listener: acts only where a mistake would have to take all words for others.

    Its decoy pass and a second look must say the same; and since one listener took "off"
    for "on" in noise all the same, a wording that shares a word with another callout
    ("three green", "two green") and every row is asked about.
    """
    utterance, hearing = evidence.utterance, evidence.hearing
    rival = grammar.read(hearing.rival) if hearing.rival else None
    if parts is None or not utterance.whole:
        return _ignored(utterance, "no whole callout heard")
    spoken = _spoken(parts, hearing, utterance, 0.0)
    if rival is None:
        return _ignored(utterance, "a decoy fits better")
    again = grammar.read(hearing.again) if hearing.again else None
    if _keys(rival) != _keys(parts) or again is None or _keys(again) != _keys(parts):
        return _unclear(utterance, (), "two callouts are about as likely")
    if any(part.phrase in grammar.shared for part in parts):
        return _unclear(utterance, spoken, "the wording means two things here")
    if _loose(evidence):
        return _unclear(utterance, spoken, "more was said than the callout")
    if len(parts) > 1 or not _stands_apart(parts[0], grammar):
        return _unclear(utterance, spoken, "one listener alone is not sure enough of this one")
    return Accepted(spoken, spoken[0].start, spoken[-1].end, utterance.decided)


def _stands_apart(part: Part, grammar: Grammar) -> bool:
    """No callout that means something else has a word in common with this wording."""
    words = set(part.phrase.split())
    others = (p for p, callout in grammar.phrases.items() if callout.key != part.callout.key)
    return all(words.isdisjoint(phrase.split()) for phrase in others)


def _loose(evidence: Evidence) -> bool:
    utterance, words = evidence.utterance, evidence.hearing.words
    head = utterance.offset + words[0].start - utterance.start
    tail = utterance.end - (utterance.offset + words[-1].end)
    return head > LOOSE_HEAD or tail > LOOSE_TAIL


def _keys(parts: tuple[Part, ...]) -> tuple[str, ...]:
    return tuple(part.callout.key for part in parts)


def _spoken(
    parts: tuple[Part, ...], hearing: Hearing, utterance: Utterance, ratio: float
) -> tuple[Spoken, ...]:
    words: tuple[Word, ...] = hearing.words
    return tuple(
        Spoken(
            part.callout.key,
            part.phrase,
            round(utterance.offset + words[part.first].start, 3),
            round(utterance.offset + words[part.last - 1].end, 3),
            _confidence(ratio),
        )
        for part in parts
    )


def _spoken_evenly(
    parts: tuple[Part, ...], text: str, utterance: Utterance, ratio: float
) -> tuple[Spoken, ...]:
    """Times by share of words, where no listener gave any."""
    count = len(text.split())
    length = utterance.end - utterance.start
    return tuple(
        Spoken(
            part.callout.key,
            part.phrase,
            round(utterance.start + length * part.first / count, 3),
            round(utterance.start + length * part.last / count, 3),
            _confidence(ratio),
        )
        for part in parts
    )


def _confidence(ratio: float) -> float:
    return round(max(0.0, min(1.0, 1.0 + ratio / 4)), 3)


def _ignored(utterance: Utterance, reason: str) -> Ignored:
    return Ignored(utterance.start, utterance.end, utterance.decided, reason)


def _unclear(utterance: Utterance, guess: tuple[Spoken, ...], reason: str) -> Unclear:
    return Unclear(utterance.start, utterance.end, utterance.decided, guess, reason)
