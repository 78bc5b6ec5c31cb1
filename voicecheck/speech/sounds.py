"""How alike two texts sound, by the phones of a pronouncing dictionary."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable, ItemsView, Iterator, Mapping
from functools import lru_cache
from pathlib import Path

import numpy as np
from rapidfuzz.distance import Levenshtein

from voicecheck.speech.apart import Phones, differing


class _EveryWay(Mapping[str, tuple[Phones, ...]]):
    """Looks words up in the text by checksum: as objects, 135,000 words would take 90 MB.

    There is one, the packaged one, in each process.
    """

    def __init__(self, text: str) -> None:
        """text: a word or word(2) and its phones on each line, the ways of one word together."""
        self._text = f"\n{text}\n"
        begun = [at.start() for at in re.finditer(r"\n(?=[^\s(]+[ \t])", self._text)]
        sums = np.fromiter((_checksum(self._word(at)) for at in begun), np.uint32, len(begun))
        order = np.argsort(sums, kind="stable")
        self._sums, self._places = sums[order], np.array(begun, np.int64)[order]
        self._find = lru_cache(maxsize=4096)(self._ways)

    def __getitem__(self, word: str) -> tuple[Phones, ...]:
        ways = self._find(word)
        if not ways:
            raise KeyError(word)
        return ways

    def __iter__(self) -> Iterator[str]:
        return iter(dict(self._entries()))

    def __len__(self) -> int:
        return len(dict(self._entries()))

    def items(self) -> ItemsView[str, tuple[Phones, ...]]:
        """All of it, in one reading; not kept."""
        return dict(self._entries()).items()

    def __reduce__(self) -> tuple[Callable[[], _EveryWay], tuple[()]]:
        """Another process has its own: evidence that holds it is sent between processes."""
        return _packaged, ()

    def _word(self, at: int) -> str:
        """The word of the line that begins after that place."""
        return self._text[at + 1 : self._text.find(" ", at)]

    def _ways(self, word: str) -> tuple[Phones, ...]:
        wanted = _checksum(word)
        first, past = (np.searchsorted(self._sums, wanted, side) for side in ("left", "right"))
        at = next((int(p) for p in self._places[first:past] if self._word(int(p)) == word), -1)
        ways: list[Phones] = []
        while at >= 0:
            end = self._text.find("\n", at + 1)
            ways.append(tuple(self._text[at:end].split()[1:]))
            at = end if self._text.startswith(f"\n{word}(", end) else -1
        return tuple(ways)

    def _entries(self) -> Iterator[tuple[str, tuple[Phones, ...]]]:
        last = ""
        ways: list[Phones] = []
        for line in self._text.splitlines():
            entry, *phones = line.split() or ("",)
            word = entry.split("(", 1)[0]
            if word != last and last:
                yield last, tuple(ways)
            if word != last:
                last, ways = word, []
            ways.append(tuple(phones))
        if last:
            yield last, tuple(ways)


class _FirstWay(Mapping[str, Phones]):
    def __init__(self, every: _EveryWay, taught: Mapping[str, Phones]) -> None:
        self._every = every
        self._taught = taught

    def __getitem__(self, word: str) -> Phones:
        taught = self._taught.get(word)
        return self._every[word][0] if taught is None else taught

    def __iter__(self) -> Iterator[str]:
        return iter(dict(self.items()))

    def __len__(self) -> int:
        return len(dict(self.items()))

    def items(self) -> ItemsView[str, Phones]:
        """All of it, in one reading; not kept."""
        listed = {word: ways[0] for word, ways in self._every.items()}
        return {**listed, **self._taught}.items()


def _checksum(word: str) -> int:
    return zlib.crc32(word.encode())


def packaged_dictionary(taught: Mapping[str, Phones] | None = None) -> Mapping[str, Phones]:
    """The dictionary inside the PocketSphinx wheel, first pronunciations only; taught comes first.

    taught: word -> phones.
    """
    return _FirstWay(_packaged(), taught or {})


def packaged_pronunciations() -> Mapping[str, tuple[Phones, ...]]:
    """The same with every pronunciation: word -> ways to say it, each a tuple of phones."""
    return _packaged()


@lru_cache(maxsize=1)
def _packaged() -> _EveryWay:
    from pocketsphinx import get_model_path

    path = Path(get_model_path("en-us/cmudict-en-us.dict"))
    return _EveryWay(path.read_text(encoding="utf-8"))


def likeness(text: str, other: str, sounds: Mapping[str, tuple[str, ...]]) -> float | None:
    """0 (nothing alike) to 1 over the words in which the texts differ.

    Words that both begin or end with say nothing ("going to fire", "going to flaps") and
    are left out. None when a differing word has no known sound.
    """
    left, right = differing(text.split(), other.split())
    if not left and not right:
        return 1.0
    if any(word not in sounds for word in (*left, *right)):
        return None
    return Levenshtein.normalized_similarity(
        [phone for word in left for phone in sounds[word]],
        [phone for word in right for phone in sounds[word]],
    )
