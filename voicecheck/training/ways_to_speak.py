"""How speakers of other accents say English, in the letters that Kokoro reads.

The label stays the dictionary's: the listener shall learn that a tapped R is an R and a pure E the
vowel of "day". All of it is common knowledge of phonetics, no source; no accent that tests is
imitated whole, each example takes a few of these at random.
"""

from __future__ import annotations

import random
from typing import Final

EXCHANGED: Final[tuple[tuple[str, str], ...]] = (
    *(("ɹ", "ɾ"), ("ɹ", "r"), ("ɹ", "ʁ"), ("ɹ", "ɻ"), ("ɹ", "ʋ")),
    *(("θ", "t"), ("θ", "s"), ("θ", "f"), ("ð", "d"), ("ð", "z"), ("ð", "v")),
    *(("w", "v"), ("w", "ʋ"), ("v", "ʋ"), ("h", "x"), ("ŋ", "ŋɡ"), ("T", "t")),
    *(("t", "ʈ"), ("d", "ɖ"), ("t", "tʰ"), ("k", "kʰ"), ("p", "pʰ"), ("j", "ʝ")),
    *(("ɪ", "i"), ("ɪ", "ɨ"), ("ɪ", "e"), ("i", "ɪ"), ("i", "əi"), ("ʊ", "u"), ("u", "y")),
    *(("u", "ɯ"), ("u", "ʊ"), ("æ", "ɛ"), ("æ", "a"), ("æ", "ɛə"), ("ɛ", "e"), ("ɛ", "ɪ")),
    *(("ɛ", "æ"), ("A", "e"), ("A", "æɪ"), ("A", "eː"), ("O", "o"), ("O", "ɔʊ"), ("O", "œ")),
    *(("O", "əʊ"), ("I", "ɑɪ"), ("I", "ɒɪ"), ("I", "a"), ("W", "æʊ"), ("W", "əu"), ("Y", "oɪ")),
    *(("ʌ", "a"), ("ʌ", "ʊ"), ("ʌ", "ɐ"), ("ɑ", "ɒ"), ("ɑ", "a"), ("ɔ", "o"), ("ɔ", "ɑ")),
    *(("ɜɹ", "ɜː"), ("ɜɹ", "ɛɾ"), ("ɜɹ", "œ"), ("əɹ", "ə"), ("əɹ", "ɐ"), ("əɹ", "aɾ")),
    *(("ə", "ɐ"), ("ə", "e"), ("ə", "ɨ")),
)
"""A letter, and what some speakers say instead."""
_MOST: Final = 5
_VOWELS: Final = "AIOQWYaeiouyæɐɑɒɔəɛɜɨɪʊʌɯøœː"


def with_an_accent(letters: str, choose: random.Random) -> str:
    """The letters with a few exchanged throughout; two speakers in five have no R after vowels."""
    options = [pair for pair in EXCHANGED if pair[0] in letters]
    fresh = dict(choose.sample(options, min(len(options), choose.randint(1, _MOST))))
    if choose.random() < 0.4:
        letters = _without_r(letters)
    told, at = "", 0
    while at < len(letters):
        here = next((size for size in (2, 1) if letters[at : at + size] in fresh), 0)
        told += fresh[letters[at : at + here]] if here else letters[at]
        at += max(here, 1)
    return told


def _without_r(letters: str) -> str:
    kept = ""
    for at, letter in enumerate(letters):
        after = letters[at + 1 : at + 2]
        follows = after.strip("ˈˌ") or letters[at + 2 : at + 3] if after in "ˈˌ" else after
        if letter == "ɹ" and kept[-1:] in _VOWELS and kept and not (follows and follows in _VOWELS):
            kept += "ː" if kept[-1] in "ɑɔɜ" else "ə" if kept[-1] != "ə" else ""
        else:
            kept += letter
    return kept
