"""A pattern as a machine that reads words, made as far as it is asked for.

Thompson's construction gives states with silent moves, the subset construction removes them; each
set of states is made when it is first reached.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Final

from voicecheck.meaning.pattern import OneOf, Pattern, Row, Rule, Times, Word

State = frozenset[int]
NOWHERE: Final[State] = frozenset()


class Automaton:
    """Reads words; each end carries the label of the pattern that it ends."""

    def __init__(
        self,
        labelled: Iterable[tuple[str, Pattern]],
        rules: Mapping[str, Pattern],
        *,
        before: Pattern | None = None,
        alone: Iterable[tuple[str, Pattern]] = (),
    ) -> None:
        """labelled: patterns by label, each after what `before` reads; alone: without that.

        rules: those they ask for; none may ask for itself.
        """
        self._rules = rules
        self._silent: list[list[int]] = []
        self._by_word: list[tuple[str, int] | None] = []
        self._labels: dict[int, str] = {}
        self._moves: dict[State, Mapping[str, State]] = {}
        self._said: dict[State, frozenset[str]] = {}
        begin = self._state()
        for label, pattern in alone:
            self._labels[self._make(pattern, begin)] = label
        first = begin if before is None else self._make(before, begin)
        for label, pattern in labelled:
            self._labels[self._make(pattern, first)] = label
        self.begin: Final = self._reached((begin,))

    def moves(self, state: State) -> Mapping[str, State]:
        """The words that may follow, and where each leads."""
        known = self._moves.get(state)
        if known is None:
            targets: dict[str, list[int]] = defaultdict(list)
            for one in state:
                arc = self._by_word[one]
                if arc is not None:
                    targets[arc[0]].append(arc[1])
            known = {word: self._reached(ends) for word, ends in targets.items()}
            self._moves[state] = known
        return known

    def ends(self, state: State) -> frozenset[str]:
        """The labels of what may end here."""
        known = self._said.get(state)
        if known is None:
            known = frozenset(self._labels[one] for one in state if one in self._labels)
            self._said[state] = known
        return known

    def read(self, words: Iterable[str], state: State | None = None) -> State:
        """Where the words lead; NOWHERE when nothing begins with them."""
        at = self.begin if state is None else state
        for word in words:
            at = self.moves(at).get(word, NOWHERE)
        return at

    @property
    def size(self) -> int:
        """States before the subset construction."""
        return len(self._silent)

    def _state(self) -> int:
        self._silent.append([])
        self._by_word.append(None)
        return len(self._silent) - 1

    def _make(self, pattern: Pattern, start: int) -> int:
        """The state where the pattern ends that begins at `start`."""
        match pattern:
            case Word(text):
                from_, end = self._state(), self._state()
                self._silent[start].append(from_)
                self._by_word[from_] = (text, end)
                return end
            case Rule(name):
                return self._make(self._rules[name], start)
            case Row(parts):
                end = self._state()
                self._silent[start].append(end)
                for part in parts:
                    end = self._make(part, end)
                return end
            case OneOf(parts):
                end = self._state()
                for part in parts:
                    self._silent[self._make(part, start)].append(end)
                return end
            case Times(part):
                again = self._state()
                self._silent[start].append(again)
                self._silent[self._make(part, again)].append(again)
                return again

    def _reached(self, ends: Iterable[int]) -> State:
        """All that silent moves lead to; only what reads a word or ends is kept."""
        seen = set(ends)
        waiting = list(seen)
        while waiting:
            for onward in self._silent[waiting.pop()]:
                if onward not in seen:
                    seen.add(onward)
                    waiting.append(onward)
        return frozenset(s for s in seen if self._by_word[s] is not None or s in self._labels)
