"""How alike two texts sound, by the phones of a pronouncing dictionary."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from rapidfuzz.distance import Levenshtein


@lru_cache(maxsize=1)
def packaged_dictionary() -> Mapping[str, tuple[str, ...]]:
    """The dictionary inside the PocketSphinx wheel, first pronunciations only."""
    return {word: ways[0] for word, ways in packaged_pronunciations().items()}


@lru_cache(maxsize=1)
def packaged_pronunciations() -> Mapping[str, tuple[tuple[str, ...], ...]]:
    """The same with every pronunciation: word -> ways to say it, each a tuple of phones."""
    from pocketsphinx import get_model_path

    sounds: dict[str, tuple[tuple[str, ...], ...]] = {}
    text = Path(get_model_path("en-us/cmudict-en-us.dict")).read_text(encoding="utf-8")
    for line in text.splitlines():
        entry, *phones = line.split()
        word = entry.split("(", 1)[0]
        if word:
            sounds[word] = (*sounds.get(word, ()), tuple(phones))
    return sounds


def likeness(text: str, other: str, sounds: Mapping[str, tuple[str, ...]]) -> float | None:
    """0 (nothing alike) to 1 over the words in which the texts differ.

    Words that both begin or end with say nothing ("going to fire", "going to flaps") and
    are left out. None when a differing word has no known sound.
    """
    left, right = text.split(), other.split()
    while left and right and left[0] == right[0]:
        left, right = left[1:], right[1:]
    while left and right and left[-1] == right[-1]:
        left, right = left[:-1], right[:-1]
    if not left and not right:
        return 1.0
    if any(word not in sounds for word in (*left, *right)):
        return None
    return Levenshtein.normalized_similarity(
        [phone for word in left for phone in sounds[word]],
        [phone for word in right for phone in sounds[word]],
    )
