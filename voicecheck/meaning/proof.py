"""What can be proven of a network before anybody speaks: shared wordings, and lost words."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import product

from voicecheck.meaning.automaton import NOWHERE, Automaton, State
from voicecheck.meaning.walking import walk


@dataclass(frozen=True, slots=True)
class Shared:
    """A shortest wording of two callouts or more."""

    words: tuple[str, ...]
    keys: frozenset[str]


@dataclass(frozen=True, slots=True)
class Lost:
    """A wording of `said` that is one of `taken` once a word of it is lost.

    at: which word of `words`.
    """

    words: tuple[str, ...]
    at: int
    said: str
    taken: str

    @property
    def heard(self) -> tuple[str, ...]:
        """What is left."""
        return self.words[: self.at] + self.words[self.at + 1 :]


def shared(one: Automaton, other: Automaton) -> Iterator[Shared]:
    """For each set of callouts that share a wording, a shortest one; of one machine, or of two."""
    told: set[frozenset[str]] = set()
    for words, state, beside in walk(one, other):
        keys = one.ends(state) | other.ends(beside)
        both = one is other or (one.ends(state) and other.ends(beside))
        if both and len(keys) > 1 and keys not in told:
            told.add(keys)
            yield Shared(words, keys)


def lost(one: Automaton, other: Automaton, dear: Collection[str]) -> Iterator[Lost]:
    """For each callout of `one` that becomes a dear one of `other` by the loss of a word.

    A shortest wording for each pair. Both are read side by side: where the one has read a word that
    the other has not, their states differ by that word, and go on together.
    """
    told: set[tuple[str, str]] = set()
    seen: set[tuple[State, State]] = set()
    waiting: deque[tuple[tuple[str, ...], int, State, State]] = deque()
    for words, state, beside in walk(one, other):
        for word, onward in one.moves(state).items():
            if (onward, beside) not in seen:
                seen.add((onward, beside))
                waiting.append(((*words, word), len(words), onward, beside))
    while waiting:
        words, at, whole, left = waiting.popleft()
        pairs = set(product(one.ends(whole), other.ends(left).intersection(dear)))
        for said, taken in sorted(pairs - told):
            told.add((said, taken))
            if said != taken:
                yield Lost(words, at, said, taken)
        shorter = other.moves(left)
        for word, onward in one.moves(whole).items():
            pair = (onward, shorter.get(word, NOWHERE))
            if pair[1] and pair not in seen:
                seen.add(pair)
                waiting.append(((*words, word), at, *pair))
