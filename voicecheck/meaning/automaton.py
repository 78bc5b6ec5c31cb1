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
        self._by_word: list[list[tuple[str, int]]] = []
        self._labels: dict[int, str] = {}
        self._known: dict[int, State] = {}
        self._joined: dict[tuple[int, ...], State] = {}
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
                for word, end in self._by_word[one]:
                    targets[word].append(end)
            known = {word: self._reached(tuple(targets[word])) for word in sorted(targets)}
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

    def _state(self) -> int:
        self._silent.append([])
        self._by_word.append([])
        return len(self._silent) - 1

    def _make(self, pattern: Pattern, start: int, end: int | None = None) -> int:
        """The state where the pattern ends that begins at `start`; `end`, if that is given."""
        if isinstance(pattern, Rule):
            return self._make(self._rules[pattern.name], start, end)
        if isinstance(pattern, Row) and pattern.parts:
            for part in pattern.parts[:-1]:
                start = self._make(part, start)
            return self._make(pattern.parts[-1], start, end)
        end = self._state() if end is None else end
        match pattern:
            case Word(text):
                self._by_word[start].append((text, end))
            case Row(_):
                self._silent[start].append(end)
            case OneOf(parts):
                for part in parts:
                    if isinstance(part, Word):  # most of them: spares a call for each
                        self._by_word[start].append((part.text, end))
                    else:
                        self._make(part, start, end)
            case Times(part):
                again = self._state()
                self._silent[start].append(again)
                self._make(part, again, again)
                self._silent[again].append(end)
        return end

    def _reached(self, ends: tuple[int, ...]) -> State:
        """All that these ends lead to; the same ends are met by many words."""
        if len(ends) == 1:
            return self._onward(ends[0])
        known = self._joined.get(ends)
        if known is None:
            known = self._joined[ends] = frozenset().union(*map(self._onward, ends))
        return known

    def _onward(self, end: int) -> State:
        """All that silent moves lead to; only what reads a word or ends is kept."""
        known = self._known.get(end)
        if known is None:
            seen = {end}
            waiting = [end]
            while waiting:
                for onward in self._silent[waiting.pop()]:
                    if onward not in seen:
                        seen.add(onward)
                        waiting.append(onward)
            known = frozenset(s for s in seen if self._by_word[s] or s in self._labels)
            self._known[end] = known
        return known
