"""Which wordings sound alike, by the phones of the dictionary and of the language's own words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product
from typing import Final

from rapidfuzz.distance import Levenshtein

from voicecheck.checklist.wordings import Alike
from voicecheck.language import Language
from voicecheck.speech.sounds import packaged_dictionary

LIKE: Final = 0.8
"""Share of phones in common from which the words that differ sound alike."""
_VOWELS: Final = frozenset(
    ("AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW")
)
"""ARPAbet symbols that carry a syllable."""

_Phones = tuple[str, ...]


def soundalike(language: Language) -> Alike:
    """Compares wordings over the words in which they differ, in the nearest pronunciation.

    Alike is: one phone apart, one word of one syllable more or less, or LIKE. A negation more
    is not meant: the listeners keep "horn not sounding" apart from every "horn sounding"
    anyway (speech.decoys). Wordings with a word of unknown sound are not compared.
    """
    own = {
        word: tuple(tuple(way.split()) for way in ways)
        for word, ways in language.speech.pronunciations.items()
    }
    packaged = packaged_dictionary()

    def ways(word: str) -> tuple[_Phones, ...]:
        usual = packaged.get(word)
        return (*own.get(word, ()), *((usual,) if usual else ()))

    def phones(words: Sequence[str]) -> Iterator[_Phones]:
        for chosen in product(*(ways(word) for word in words)):
            yield tuple(phone for word in chosen for phone in word)

    @cache
    def nearness(left: tuple[str, ...], right: tuple[str, ...]) -> str | None:
        pairs = list(product(phones(left), phones(right)))
        if not pairs:
            return None
        if not left or not right:
            more = left or right
            syllables = min(sum(phone in _VOWELS for phone in a + b) for a, b in pairs)
            slight = syllables <= 1 and more[0] not in language.speech.negations
            return f"only '{' '.join(more)}' apart" if slight else None
        if any(Levenshtein.distance(a, b) <= 1 for a, b in pairs):
            return "one sound apart"
        share = max(Levenshtein.normalized_similarity(a, b) for a, b in pairs)
        return f"{share:.0%} of their sounds are the same" if share >= LIKE else None

    def alike(one: str, other: str) -> str | None:
        return nearness(*_differing(one.split(), other.split()))

    return alike


def _differing(one: list[str], other: list[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Both without the words that they begin and end with alike."""
    while one and other and one[0] == other[0]:
        one, other = one[1:], other[1:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    return tuple(one), tuple(other)
