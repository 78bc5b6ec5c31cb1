"""How phrases may be said, as outputs of the listener that writes phones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import islice, product
from typing import Final

from voicecheck.speech.apart import Phones
from voicecheck.speech.ctc import NUMBERS, Way

MOST: Final = 8
"""Ways to say one phrase that are tried."""
OF_WORD: Final = 3
"""Pronunciations of one word that are tried, the taught ones first."""

Owners = tuple[int, ...]
"""For each phone of a way, the word that it belongs to."""
_Said = tuple[tuple[int, int], ...]


class Pronouncing:
    """Pronunciations of phrases, out of those of words.

    taught: word -> ARPAbet symbols with spaces between; listed: word -> phones, the dictionary.
    """

    def __init__(
        self, taught: Mapping[str, Sequence[str]], listed: Mapping[str, Sequence[Phones]]
    ) -> None:
        self._taught = taught
        self._listed = listed
        self._known = lru_cache(maxsize=8192)(self._said)

    def ways(self, phrase: str) -> tuple[Way, ...]:
        """All of a phrase; none where a word has no known sound."""
        return tuple(self._known(phrase))

    def owners(self, phrase: str, way: Way) -> Owners:
        """Of one of its ways."""
        return self._known(phrase)[way]

    def _said(self, phrase: str) -> Mapping[Way, Owners]:
        options = [self._of_word(word, at) for at, word in enumerate(phrase.split())]
        if not options:
            return {}
        ways: dict[Way, Owners] = {}
        for words in islice(product(*options), MOST):
            for said in _run_together(tuple(phone for word in words for phone in word)):
                ways.setdefault(tuple(p for p, _ in said), tuple(at for _, at in said))
        return ways

    def _of_word(self, word: str, at: int) -> list[_Said]:
        taught = (tuple(way.split()) for way in self._taught.get(word, ()))
        found = dict.fromkeys((*taught, *self._listed.get(word, ())))
        known = [way for way in found if way and all(phone in NUMBERS for phone in way)]
        return [tuple((NUMBERS[phone], at) for phone in way) for way in known[:OF_WORD]]


def _run_together(said: _Said) -> Iterator[_Said]:
    """As it is, and with one phone where the edge of two words has it twice ("flaps set")."""
    yield said
    for at in range(len(said) - 1):
        fewer = (*said[: at + 1], *said[at + 2 :])
        one_left = any(owner == said[at + 1][1] for _, owner in fewer)
        if said[at][0] == said[at + 1][0] and one_left:
            yield from _run_together(fewer)
