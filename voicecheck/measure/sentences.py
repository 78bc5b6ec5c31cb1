"""What is said in a state: its callouts, and what must not be taken for one of them."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from rapidfuzz.distance import Levenshtein

from voicecheck.callouts import Callout, Stakes
from voicecheck.measure.offered import State
from voicecheck.measure.outside_speech import CHATTER, EMPTY, SIMILAR, UNRELATED
from voicecheck.speech.decoys import neighbours
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.sounds import packaged_dictionary

Kind = Literal["callout", "near_miss", "sound_alike", "opposite", "chatter", "other_state", "noise"]
KINDS: Final[tuple[Kind, ...]] = (
    *("callout", "near_miss", "sound_alike", "opposite"),
    *("chatter", "other_state", "noise"),
)
PARTICLES: Final = frozenset({"up", "down"})
"""Words that no "not" stands before."""
ALIKE: Final = 2
"""Phones up to which an exchanged word is a sound-alike: what an accent may change as well."""
ROWS: Final = 0.15
"""Share of callouts that are two in one breath, where two may join."""
FLAT: Final = (
    frozenset({"on", "off"}),
    frozenset({"lit", "out", "dark", "illuminated"}),
    frozenset({"sounding", "silenced"}),
    frozenset({"running", "stopped"}),
    frozenset({"open", "closed"}),
    frozenset({"left", "right"}),
    frozenset({"low", "high"}),
    frozenset({"affirm", "negative"}),
    *(frozenset(pair) for pair in (("no", "one"), ("one", "two"), ("two", "three"))),
    *(frozenset(pair) for pair in (("three", "four"), ("both", "one"), ("both", "no"))),
)
"""Exchanges that make an opposite: on and off, lit and out, one lamp more or less."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """text: what the voice says; said: the words of the callouts in it, or None."""

    text: str
    said: str | None
    kind: Kind


def closing(callouts: Sequence[Callout]) -> tuple[Callout, ...]:
    """Those that close something as good: what must never be heard where it was not said."""
    return tuple(c for c in callouts if c.stakes is Stakes.CLOSES_GOOD)


def callout(
    state: State, grammar: Grammar, about: Sequence[Callout], choose: random.Random
) -> Sentence:
    """One wording of one callout of `about`, each as likely; sometimes another in one breath."""
    first = choose.choice(about)
    phrase = choose.choice(first.phrases)
    joining = [c for c in state.callouts if c.joins and c.key != first.key]
    if first.joins and joining and choose.random() < ROWS:
        joined = f"{phrase} and {choose.choice(choose.choice(joining).phrases)}"
        if grammar.read(joined.split()) is not None:
            return Sentence(joined, joined, "callout")
    return Sentence(phrase, phrase, "callout")


def opposites(grammar: Grammar, lexicon: Lexicon, about: Sequence[Callout]) -> list[str]:
    """Every opposite of a wording of `about`: on for off, one lamp more, with and without "not"."""
    found: dict[str, None] = {}
    ours = {_singular(phrase) for phrase in grammar.phrases}
    for phrase, meant in grammar.phrases.items():
        if meant not in about:
            continue
        words = phrase.split()
        for other in neighbours(phrase, lexicon, negate=meant.joins):
            if _is_opposite(words, other.split(), lexicon):
                found[other] = None
    # "no beta light" is no opposite where "no beta lights" is a callout: it means the same.
    return [p for p in found if p in grammar.phrases or _singular(p) not in ours]


def _is_opposite(words: Sequence[str], there: Sequence[str], lexicon: Lexicon) -> bool:
    if words[-1] in PARTICLES and "not" in there and "not" not in words:
        return False  # nobody says "powered not up"
    if len(there) != len(words):
        return set(there) ^ set(words) <= set(lexicon.negations)
    pair = frozenset(w for pair in zip(words, there, strict=True) for w in _apart(pair))
    return pair in FLAT or any(pair <= group for group in FLAT if len(group) > 2)


def _singular(phrase: str) -> str:
    return " ".join(word.removesuffix("s") for word in phrase.split())


def _apart(pair: tuple[str, str]) -> Iterator[str]:
    if pair[0] != pair[1]:
        yield from pair


def opposite(texts: Sequence[str], grammar: Grammar, choose: random.Random) -> Sentence:
    """One of `texts` (see opposites); `said` where the grammar has that opposite itself."""
    text = choose.choice(texts)
    return Sentence(text, text if grammar.read(text.split()) else None, "opposite")


def near_miss(
    grammar: Grammar, lexicon: Lexicon, about: Sequence[Callout], choose: random.Random
) -> Sentence:
    """A wording of `about` with one word exchanged, dropped or added, that is no callout here.

    Its kind is sound_alike where only an accent lies between the words. Never what the
    grammar's own opposites already are.
    """
    known = set(opposites(grammar, lexicon, tuple(grammar.phrases.values())))
    phrases = [phrase for phrase, meant in grammar.phrases.items() if meant in about]
    while True:
        words = choose.choice(phrases).split()
        at = choose.randrange(len(words))
        other = _instead(words, at, choose)
        if other is None:
            continue
        text = " ".join([*words[:at], *other, *words[at + 1 :]])
        if grammar.read(text.split()) is None and text not in known:
            exchanged = len(other) == 1 and sounds_alike(words[at], other[0])
            return Sentence(text, None, "sound_alike" if exchanged else "near_miss")


def _instead(words: Sequence[str], at: int, choose: random.Random) -> tuple[str, ...] | None:
    """What is said in place of one word; None where the exchange drawn does not fit it."""
    alike = {group[0]: group[1:] for group in SIMILAR}
    match choose.randrange(5):
        case 0 | 1 if words[at] in alike:
            return (choose.choice(alike[words[at]]),)
        case 2:
            return (choose.choice(UNRELATED),)
        case 3 if len(words) > 2 and words[at] not in EMPTY:
            return ()
        case 4:
            return words[at], choose.choice(UNRELATED)
    return None


def sounds_alike(word: str, other: str) -> bool:
    """At most ALIKE phones apart, by the dictionary in the PocketSphinx wheel."""
    sounds = packaged_dictionary()
    mine, theirs = ([p for w in text.split() for p in sounds.get(w, w)] for text in (word, other))
    return Levenshtein.distance(mine, theirs) <= ALIKE


def chatter(choose: random.Random) -> Sentence:
    """Talk of other things."""
    return Sentence(choose.choice(CHATTER), None, "chatter")


def other_state(
    state: State, states: Sequence[State], grammar: Grammar, choose: random.Random
) -> Sentence | None:
    """A callout of another state of the checklist that cannot be said in this one."""
    here = {c.key for c in state.callouts}
    foreign = [
        phrase
        for other in states
        for c in other.callouts
        if c.key not in here
        for phrase in c.phrases
        if grammar.read(phrase.split()) is None
    ]
    return Sentence(choose.choice(foreign), None, "other_state") if foreign else None
