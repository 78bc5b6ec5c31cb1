"""Which wordings are too near each other in sound, by the recogniser's measured confusions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from voicecheck.language import Language
from voicecheck.proofreading.pronouncing import sounds_of
from voicecheck.speech.apart import LIMIT, Apart, Phones, differing
from voicecheck.speech.confusion import packaged_confusions

_VOWELS = frozenset(
    ("AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW")
)
"""ARPAbet symbols that carry a syllable."""


class Soundalike:
    """Compares wordings (checklist.wordings.Alike).

    Alike is: nearer than the limit, or one word of one syllable more or less. A negation more
    is not meant by the latter: the listeners keep "horn not sounding" apart from every "horn
    sounding" anyway (speech.decoys). A word of unknown sound is compared with nothing.
    """

    def __init__(self, language: Language) -> None:
        self._language = language
        self._apart = Apart(packaged_confusions().costs, self._ways)

    def __call__(self, one: str, other: str) -> str | None:
        """Why the two sound alike, or None."""
        if (near := self.near(one, other)) is not None:
            return near
        left, right = differing(one.split(), other.split())
        if bool(left) != bool(right):
            return self._slight(left or right)
        return None

    def near(self, one: str, other: str) -> str | None:
        """The distance of the two, where it is below the limit, else None."""
        distance = self._apart.below(one, other)
        return None if distance is None else f"distance {distance:.1f}, limit {LIMIT:g}"

    def clearer(self, phrase: str, others: Sequence[str]) -> str | None:
        """The alternative wording that is farthest from all others, with its distance.

        From the language's `alternatives`; None where none of them keeps the limit.
        """
        best, found = "", 0.0
        for proposed in self._alternatives(phrase):
            nearest = self._nearest(proposed, others)
            if nearest > found and all(self(proposed, other) is None for other in others):
                best, found = proposed, nearest
        return f"call it '{best}' (distance {found:.1f})" if best else None

    def _nearest(self, phrase: str, others: Sequence[str]) -> float:
        """Distance of the nearest; 0 below the limit, and where a distance is not known."""
        distances = [self._apart.distance(phrase, other) for other in others]
        known = [d for d in distances if d is not None]
        if not known or len(known) < len(distances) or min(known) < LIMIT:
            return 0.0
        return min(known)

    def _ways(self, word: str) -> tuple[Phones, ...]:
        sounds = sounds_of([word], self._language).get(word)
        return tuple(tuple(way.split()) for way in sounds.ways) if sounds else ()

    def _alternatives(self, phrase: str) -> Iterator[str]:
        words = phrase.split()
        for at, word in enumerate(words):
            for other in self._language.speech.alternatives.get(word, ()):
                yield " ".join([*words[:at], other, *words[at + 1 :]])

    def _slight(self, more: Sequence[str]) -> str | None:
        sounds = sounds_of(more, self._language)
        if len(sounds) < len(set(more)) or more[0] in self._language.speech.negations:
            return None
        fewest = sum(
            min(sum(phone in _VOWELS for phone in way.split()) for way in sounds[word].ways)
            for word in more
        )
        return f"only '{' '.join(more)}' apart" if fewest <= 1 else None


_KEPT: Final[dict[tuple[str, str], Soundalike]] = {}


def soundalike(language: Language) -> Soundalike:
    """The comparison for one language: kept with its distances, which many airframes ask for."""
    # By content, all of it that is compared by: a name may stand for a file that has changed.
    key = (language.name, language.speech.model_dump_json())
    known = _KEPT.get(key)
    if known is None:
        known = Soundalike(language)
        _KEPT.clear()
        _KEPT[key] = known
    return known
