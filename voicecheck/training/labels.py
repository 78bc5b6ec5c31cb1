"""What was said, as the phones that a phrase is scored with.

A dictionary has several ways to say a word, and the synthesiser took one of them, or an accent's.
The label is the dictionary's way that lies nearest to the synthesiser's own phonemes, word for word
("and" as AH N D where it is reduced), so that labels and scoring speak of the same phones. A word
that no dictionary has keeps the synthesiser's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Final

from voicecheck.training.mnemonics import VOWELS

Phones = tuple[str, ...]
Way = tuple[Phones, float]
"""A pronunciation, and what it costs to choose it at all."""
FARTHEST: Final = 0.34
"""Mean cost of a phone beyond which text and sound do not fit: the utterance is left out."""
_NEAR: Final = {
    frozenset(pair): 0.3
    for pair in (
        ("AH", "IH"), ("AH", "ER"), ("AA", "AO"), ("AA", "AH"), ("AE", "AA"), ("T", "D"),
        ("S", "Z"), ("IH", "IY"), ("AH", "UH"), ("UH", "UW"), ("AH", "AE"), ("AH", "EH"),
        ("EH", "IH"), ("EH", "AE"), ("AO", "OW"),
    )
}  # fmt: skip
_DROPPED: Final = {"R": 0.3, "AH": 0.5, "Y": 0.5, "HH": 0.7}
"""Phones that accents or quick speech leave out or put in."""
_OWN: Final = 0.6
"""Cost of the synthesiser's own phones where the dictionary has others: it reads a rare name its
own way, while an accent's vowels cost less than this."""


def cost(one: str, other: str) -> float:
    """0 for the same phone to 1 for unlike ones."""
    if one == other:
        return 0.0
    near = _NEAR.get(frozenset((one, other)))
    if near is not None:
        return near
    return 0.7 if (one in VOWELS) == (other in VOWELS) else 1.2


def nearest(words: Sequence[Sequence[Way]], said: Phones) -> tuple[Phones, float]:
    """words: the ways of each word. The ways that lie nearest to `said`, joined, and their cost.

    A lattice of all ways against the phones said, by dynamic programming.
    """
    row: list[tuple[float, Phones]] = [(0.0, ())]
    for phone in said:
        row.append((row[-1][0] + _DROPPED.get(phone, 0.9), ()))
    for ways in words:
        after = [_through([(c + more, p) for c, p in row], way, said) for way, more in ways]
        row = [min((option[at] for option in after), key=_first) for at in range(len(said) + 1)]
    return row[-1][1], row[-1][0]


def _first(cell: tuple[float, Phones]) -> float:
    return cell[0]


def _through(
    row: list[tuple[float, Phones]], way: Phones, said: Phones
) -> list[tuple[float, Phones]]:
    for phone in way:
        left_out = _DROPPED.get(phone, 0.9)
        fresh = [(row[0][0] + left_out, (*row[0][1], phone))]
        for at, heard in enumerate(said, start=1):
            swapped = row[at - 1][0] + cost(phone, heard)
            missed = row[at][0] + left_out
            extra = fresh[-1][0] + _DROPPED.get(heard, 0.9)
            if swapped <= missed and swapped <= extra:
                fresh.append((swapped, (*row[at - 1][1], phone)))
            elif missed <= extra:
                fresh.append((missed, (*row[at][1], phone)))
            else:
                fresh.append((extra, fresh[-1][1]))
        row = fresh
    return row


def _options(
    word: str, ways: Callable[[str], Sequence[Phones]], own: Callable[[str], Phones]
) -> tuple[Way, ...]:
    return (*((way, 0.0) for way in ways(word)), (own(word), _OWN))


@lru_cache(maxsize=100_000)
def nearest_of_one(ways: tuple[Way, ...], said: Phones) -> tuple[Phones, float]:
    """The way of one word that lies nearest to what was said for it, and its cost."""
    return nearest([ways], said)


def label(
    text: str, said: Phones, ways: Callable[[str], Sequence[Phones]], own: Callable[[str], Phones]
) -> Phones | None:
    """The label of a text; None where text and sound do not fit.

    ways: a word's pronunciations, none for a word that no dictionary has; own: the synthesiser's
    phones of one word.
    """
    words = [_options(word, ways, own) for word in text.split()]
    found, far = nearest(words, said)
    return found if found and far <= FARTHEST * max(len(found), len(said)) else None


def word_by_word(
    text: str,
    said: Sequence[Phones],
    ways: Callable[[str], Sequence[Phones]],
    own: Callable[[str], Phones],
) -> Phones | None:
    """The same where the synthesiser told its phones for each word: quicker, words come again."""
    found: list[str] = []
    far = 0.0
    for word, phones in zip(text.split(), said, strict=True):
        best, cost_of_it = nearest_of_one(_options(word, ways, own), phones)
        found += best
        far += cost_of_it
    most = max(len(found), sum(len(phones) for phones in said))
    return tuple(found) if found and far <= FARTHEST * most else None
