"""How far two wordings are apart in sound, by the confusions that were measured."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import islice, product
from typing import Final

from voicecheck.speech.confusion import NOTHING

Phones = tuple[str, ...]
_Words = tuple[str, ...]
Ways = Callable[[str], Sequence[Phones]]
"""Word -> its pronunciations; none where its sound is unknown."""

LIMIT: Final = 6.0
"""Distance in nats below which two wordings are too close to be told apart by ear alone.

`voicecheck measure wordings`, 128 pairs, five voices, the grammar decoder alone at 10 dB and
5 dB: from 3 to 4 nats it took 8 and 13 % for the other wording, from 4 to 6 it took 1.9 and
6.9 %, from 6 to 8 it took 0.6 and 3.7 %. The limit was
chosen on these figures, and each rests on 160 trials: 0.6 % is one of them, and up to 3.4 % is
within its 95 % interval. The second listener and the decoys come on top."""
_MOST: Final = 24
"""Combinations of pronunciations compared; the first ones are the usual ones."""


class Apart:
    """Distances between wordings; what has been computed once is remembered.

    costs: of ordered pairs of phones and NOTHING (speech.confusion.ConfusionTable.costs).
    """

    def __init__(self, costs: Mapping[tuple[str, str], float], ways: Ways) -> None:
        self._ways = ways
        self._by_phone = {
            one: {other: cost for (first, other), cost in costs.items() if first == one}
            for one in {one for one, _ in costs}
        }
        gaps = [cost for phone, cost in self._by_phone.get(NOTHING, {}).items() if phone != NOTHING]
        self._least_gap = min(gaps, default=0.0)
        self._known: dict[tuple[_Words, _Words], float | None] = {}
        self._near: dict[tuple[_Words, _Words, float], float | None] = {}
        self._spoken: dict[_Words, tuple[Phones, ...]] = {}

    def distance(self, one: str, other: str) -> float | None:
        """Nats over the words in which the two differ, in the nearest pronunciation.

        It is the cheapest way to turn one's phones into the other's. None when a word that
        differs has no known sound.
        """
        key = differing(one.split(), other.split())
        if key not in self._known:
            self._known[key] = self._known[key[1], key[0]] = self._nearest(*key, math.inf)
        return self._known[key]

    def below(self, one: str, other: str, limit: float = LIMIT) -> float | None:
        """The distance where it is below the limit, else None."""
        left, right = differing(one.split(), other.split())
        key = (left, right, limit)
        if key not in self._near:
            distance = self._nearest(left, right, limit)
            near = distance if distance is not None and distance < limit else None
            self._near[key] = self._near[right, left, limit] = near
        return self._near[key]

    def _nearest(self, one: _Words, other: _Words, limit: float) -> float | None:
        left, right = self._said(one), self._said(other)
        if not left or not right:
            return None
        best = math.inf
        for a, b in product(left, right):
            if abs(len(a) - len(b)) * self._least_gap < min(best, limit):
                best = min(best, self._align(a, b, min(best, limit)))
        return best

    def _said(self, words: _Words) -> tuple[Phones, ...]:
        if words not in self._spoken:
            combined = product(*(self._ways(word) for word in words))
            self._spoken[words] = tuple(
                tuple(phone for word in said for phone in word) for said in islice(combined, _MOST)
            )
        return self._spoken[words]

    def _align(self, one: Phones, other: Phones, limit: float) -> float:
        """Weighted edit distance (Wagner and Fischer, 1974); infinite once it is sure to exceed."""
        by_phone = self._by_phone
        none = by_phone[NOTHING]
        gaps = [none[phone] for phone in other]
        row = [0.0]
        for gap in gaps:
            row.append(row[-1] + gap)
        for phone in one:
            costs = by_phone[phone]
            gap = costs[NOTHING]
            before, row = row, [row[0] + gap]
            last = row[0]
            for at, against in enumerate(other):
                last = min(before[at] + costs[against], before[at + 1] + gap, last + gaps[at])
                row.append(last)
            if min(row) >= limit:
                return math.inf
        return row[-1]


def differing(one: Sequence[str], other: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Both without the words that they begin and end with alike."""
    first = 0
    while first < min(len(one), len(other)) and one[first] == other[first]:
        first += 1
    one, other = one[first:], other[first:]
    last = 0
    while last < min(len(one), len(other)) and one[-1 - last] == other[-1 - last]:
        last += 1
    return tuple(one[: len(one) - last]), tuple(other[: len(other) - last])
