"""Sentences that lie a phone or two beside a callout: what the listener must learn to tell apart.

Words alone would teach it which words there are ("select beer" was heard as "select gear" with full
certainty); so some near misses are no words at all, but phonemes exchanged, dropped or cut off.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache

from voicecheck.speech.ctc import SPOKEN
from voicecheck.training.mnemonics import VOWELS, Unit, phones_of
from voicecheck.training.words import HELD, Phones, entries, taught, ways


@lru_cache(maxsize=1)
def _spelled() -> dict[Phones, tuple[str, ...]]:
    """Phones -> words of the dictionary that are said so."""
    found: defaultdict[Phones, list[str]] = defaultdict(list)
    for word, listed in entries().items():
        for way in (*taught().get(word, ()), *listed):
            found[way].append(word)
    return {way: tuple(words) for way, words in found.items()}


def beside(word: str) -> tuple[str, ...]:
    """Words that differ from this one in one phone, in some way to say both."""
    found: dict[str, None] = {}
    for way in ways(word):
        for at in range(len(way) + 1):
            changed = [(*way[:at], other, *way[at:]) for other in SPOKEN]
            if at < len(way):
                changed += [(*way[:at], other, *way[at + 1 :]) for other in SPOKEN]
                changed.append((*way[:at], *way[at + 1 :]))
            for near in changed:
                if near not in ways(word):
                    found |= dict.fromkeys(_spelled().get(near, ()))
    return tuple(other for other in found if other != word and other not in HELD)


_beside = lru_cache(maxsize=20_000)(beside)


def near_miss(phrase: str, choose: random.Random) -> str | None:
    """The phrase with one word exchanged for one a phone beside it, or two; None: there is none."""
    words = phrase.split()
    at = choose.randrange(len(words))
    near = _beside(words[at])
    if near and choose.random() < 0.3:
        near = _beside(choose.choice(near)) or near
    mine = set(ways(words[at]))
    options = [word for word in near if not mine.issuperset(ways(word))]  # two steps may lead back
    if not options:
        return None
    return " ".join([*words[:at], choose.choice(options), *words[at + 1 :]])


def altered(said: Sequence[Unit], choose: random.Random) -> tuple[Unit, ...]:
    """The phonemes with one exchanged for one of its class, one dropped, or an end cut off.

    Exchanged are only phonemes of one phone, for others of `said`'s own alphabet, so that the
    synthesiser can say them.
    """
    units = list(said)
    at = choose.randrange(len(units))
    kind = choose.random()
    if kind < 0.6:
        vowel = units[at].phones[0] in VOWELS
        names = _VOWELS if vowel else _CONSONANTS
        name, phone = choose.choice([n for n in names if (n[1],) != units[at].phones])
        units[at] = Unit(name, (phone,), units[at].stress, units[at].starts)
    elif kind < 0.75 and len(units) > 2:
        gone = units.pop(at)
        if gone.starts and at < len(units):
            after = units[at]
            units[at] = Unit(after.name, after.phones, after.stress, True)
    else:
        keep = choose.randrange(min(2, len(units)), len(units) + 1)
        units = units[:keep] if choose.random() < 0.7 else units[-keep:]
    return tuple(units)


_VOWELS = (
    ("a", "AE"), ("E", "EH"), ("I", "IH"), ("i:", "IY"), ("u:", "UW"), ("V", "AH"), ("eI", "EY"),
    ("aI", "AY"), ("oU", "OW"), ("aU", "AW"), ("OI", "OY"), ("3:", "ER"), ("A:", "AA"),
)  # fmt: skip
_CONSONANTS = (
    ("p", "P"), ("b", "B"), ("t", "T"), ("d", "D"), ("k", "K"), ("g", "G"), ("tS", "CH"),
    ("dZ", "JH"), ("f", "F"), ("v", "V"), ("T", "TH"), ("D", "DH"), ("s", "S"), ("z", "Z"),
    ("S", "SH"), ("h", "HH"), ("m", "M"), ("n", "N"), ("l", "L"), ("r", "R"), ("w", "W"),
    ("j", "Y"),
)  # fmt: skip


def speakable(said: Sequence[Unit]) -> bool:
    """Whether there is a vowel in it and something else."""
    phones = phones_of(tuple(said))
    return len(phones) >= 2 and any(phone in VOWELS for phone in phones)
