"""Chance that can be turned another way at any point of a session, and the same up to there."""

from __future__ import annotations

import random

Forks = tuple[tuple[int, int], ...]
"""After how many draws, in order, chance goes another way, and the number of that way."""


class Forked(random.Random):
    """Seeded as ever; at each fork it begins anew. draws: how often it was asked."""

    def __init__(self, seed: str, forks: Forks = ()) -> None:
        self._seed, self._forks, self.draws = seed, list(forks), 0
        super().__init__(seed)

    def random(self) -> float:
        """From 0 to 1, as ever."""
        self._draw()
        return super().random()

    def getrandbits(self, k: int, /) -> int:
        """So many bits, as ever."""
        self._draw()
        return super().getrandbits(k)

    def _draw(self) -> None:
        self.draws += 1
        if self._forks and self.draws > self._forks[0][0]:
            _, way = self._forks.pop(0)
            super().seed(f"{self._seed} {self.draws} {way}")
