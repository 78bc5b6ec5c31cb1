"""How often one wording is taken for another, against their distance: why the limit is where it is.

A voice that has no part in the phone table says one wording of a pair, in noise; the grammar
decoder alone must choose between the two. That is harder than a session, where decoys and a
second listener have their say, so the rates are upper ends.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise, permutations, product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.callouts import Callout, Stakes
from voicecheck.checklist.resolved import Checklist
from voicecheck.checklist.wordings import said_together
from voicecheck.language import Language
from voicecheck.measure.phone_confusions import variants
from voicecheck.measure.table import Cell, Table
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.speech.apart import LIMIT, Phones
from voicecheck.speech.decoys import neighbours
from voicecheck.speech.endpoint import RATE
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.opening import apart_of
from voicecheck.speech.sounds import packaged_pronunciations
from voicecheck.speech.sphinx import SphinxListener
from voicecheck.world.mixing import mixed
from voicecheck.world.synthesis import Talker

TALKERS: Final = (
    Talker("flite", "awb"),
    Talker("espeak-ng", "en-us+f5"),
    Talker("espeak-ng", "en-us+m7", 1.1),
    Talker("espeak-ng", "en-us+klatt4"),
    Talker("espeak-ng", "en-gb-x-rp"),
)
"""None of them is in the phone table; the last is not rhotic, as many crews are not."""
NOISES: Final = (10.0, 5.0)
EDGES: Final = (0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 20.0)
"""Bins of distance in nats."""
PAIRS: Final = 16
"""Pairs in each bin."""
_SEED: Final = 9


@dataclass(frozen=True, slots=True)
class Pair:
    """Two wordings of different meaning and their distance in nats."""

    one: str
    other: str
    distance: float


def pairs_of(checklists: Iterable[Checklist], language: Language) -> list[Pair]:
    """Every two wordings that can be said together, and each with its neighbours.

    Neighbours in meaning are decoys; neighbours in sound have another word of the dictionary
    in them, one phone away: a sound checklist has too few pairs as near as that.
    """
    lexicon = lexicon_of(language)
    apart = apart_of(lexicon)
    found: dict[tuple[str, str], Pair] = {}
    for checklist in checklists:
        for position in checklist.positions:
            together = said_together(checklist, position)
            meaning = {wording.phrase: wording.key for wording in together}
            for one, other in _confusable(meaning, lexicon):
                key = (min(one, other), max(one, other))
                if key not in found and one != other:
                    distance = apart.distance(one, other)
                    if distance is not None:
                        found[key] = Pair(*key, distance)
    return list(found.values())


def _confusable(meaning: Mapping[str, str], lexicon: Lexicon) -> list[tuple[str, str]]:
    phrases = sorted(meaning)
    found = [
        (one, other)
        for at, one in enumerate(phrases)
        for other in phrases[at + 1 :]
        if meaning[one] != meaning[other]
    ]
    found += [(one, near) for one in phrases for near in neighbours(one, lexicon)]
    found += [(one, near) for one in phrases for near in one_phone_away(one)]
    return found


def one_phone_away(phrase: str) -> Iterator[str]:
    """The phrase with one word exchanged for one that differs in a single phone."""
    words = phrase.split()
    for at, word in enumerate(words):
        for phones in packaged_pronunciations().get(word, ())[:1]:
            for place in range(len(phones)):
                for changed in variants(phones, place).values():
                    for other in _spelled().get(changed, ())[:1]:
                        if other != word and other.isalpha():
                            yield " ".join([*words[:at], other, *words[at + 1 :]])


@lru_cache(maxsize=1)
def _spelled() -> dict[Phones, tuple[str, ...]]:
    """Phones -> words that are said so."""
    found: dict[Phones, tuple[str, ...]] = {}
    for word, ways in packaged_pronunciations().items():
        found[ways[0]] = (*found.get(ways[0], ()), word)
    return found


def choose(pairs: Sequence[Pair], edges: Sequence[float], count: int) -> list[list[Pair]]:
    """Up to `count` pairs for each bin between two edges, the same ones on each run."""
    random = np.random.default_rng(_SEED)
    bins = []
    for low, high in pairwise(edges):
        inside = sorted((p.one, p.other, p.distance) for p in pairs if low <= p.distance < high)
        order = random.permutation(len(inside))[:count]
        bins.append([Pair(*inside[at]) for at in sorted(order)])
    return bins


def measure_wordings(
    checklists: Iterable[Checklist],
    language: Language,
    talkers: Sequence[Talker] = TALKERS,
    noises: Sequence[float] = NOISES,
    count: int = PAIRS,
    tell: Callable[[str], None] = lambda _: None,
) -> Table:
    """One row for each bin of distance."""
    bins = choose(pairs_of(checklists, language), EDGES, count)
    listener = SphinxListener(lexicon_of(language))
    say = cache(_between_quiet)
    rows: list[tuple[Cell, ...]] = []
    for low, high, pairs in zip(EDGES, EDGES[1:], bins, strict=False):
        tell(f"distance {low:g} to {high:g}: {len(pairs)} pairs")
        tally = dict.fromkeys(noises, (0, 0))
        worst = ("", 0.0)
        for number, pair in enumerate(pairs):
            phrases = (pair.one, pair.other)
            if any(listener.missing(phrase.split()) for phrase in phrases):
                continue
            listener.listen(Grammar(tuple(Callout(p, (p,), Stakes.ASKS) for p in phrases)))
            wrong = total = 0
            trials = product(enumerate(talkers), permutations(phrases), noises)
            for (voice, talker), (phrase, other), decibels in trials:
                seed = _SEED + 100 * number + voice
                heard = listener.hear(mixed(say(talker, phrase), decibels, seed)).text
                taken = heard == tuple(other.split())
                tally[decibels] = (tally[decibels][0] + taken, tally[decibels][1] + 1)
                wrong, total = wrong + taken, total + 1
            if total and wrong / total > worst[1]:
                worst = (f"{pair.one} / {pair.other}", wrong / total)
        rates = [round(n / t, 3) if t else None for n, t in tally.values()]
        rows.append((f"{low:g}-{high:g}", len(pairs), tally[noises[0]][1], *rates, worst[0]))
    return Table(
        "wordings: taken for the other one of a pair, by the grammar decoder alone",
        ("distance", "pairs", "trials", *(f"at {n:g} dB" for n in noises), "worst pair"),
        tuple(rows),
        (f"limit: {LIMIT:g}; nearer pairs are asked about and warned of", "trials: at each noise"),
    )


def _between_quiet(talker: Talker, phrase: str) -> NDArray[np.int16]:
    quiet = np.zeros(RATE // 4, np.int16)
    return np.concatenate([quiet, talker.say(phrase), quiet])
