"""Ways through one machine, or through two that read the same words."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Iterator
from itertools import pairwise, product

from voicecheck.meaning.automaton import NOWHERE, Automaton, State


def walk(one: Automaton, other: Automaton) -> Iterator[tuple[tuple[str, ...], State, State]]:
    """Every pair of states that the same words reach, with the fewest words."""
    seen = {(one.begin, other.begin)}
    waiting: deque[tuple[tuple[str, ...], State, State]] = deque([((), one.begin, other.begin)])
    while waiting:
        words, state, beside = waiting.popleft()
        yield words, state, beside
        ours = other.moves(beside)
        for word, onward in one.moves(state).items():
            pair = (onward, ours.get(word, NOWHERE))
            if pair[1] and pair not in seen:
                seen.add(pair)
                waiting.append(((*words, word), *pair))


def cover(machine: Automaton) -> tuple[str, ...]:
    """Wordings that together hold every two words that follow one another in some wording."""
    ways = {state: words for words, state, _ in walk(machine, machine)}
    ends = ends_of(machine, ways)
    found: dict[tuple[str, str], str] = {}
    for state, before in _into(machine, ways).items():
        # By the word before and the word after; "" where the wording begins or ends.
        first = {word: (*ways[source], word) for word, source in before.items()}
        after = {w: (w, *ends[onward]) for w, onward in machine.moves(state).items()}
        if state == machine.begin:
            first[""] = ()
        if machine.ends(state):
            after[""] = ()
        fresh = (pair for pair in product(first, after) if pair not in found)
        for one, other in fresh:
            words = (*first[one], *after[other])
            found |= dict.fromkeys(pairwise(("", *words, "")), " ".join(words))
    return tuple(sorted(filter(None, set(found.values()))))


def _into(machine: Automaton, states: Iterable[State]) -> dict[State, dict[str, State]]:
    """For each state the words that lead to it, and one from which each does."""
    found: dict[State, dict[str, State]] = {state: {} for state in states}
    for state in found:
        for word, onward in machine.moves(state).items():
            found[onward].setdefault(word, state)
    return found


def ends_of(machine: Automaton, states: Iterable[State]) -> dict[State, tuple[str, ...]]:
    """The fewest words from each of these states to an end."""
    into: dict[State, list[tuple[State, str]]] = defaultdict(list)
    found: dict[State, tuple[str, ...]] = {}
    for state in states:
        for word, onward in machine.moves(state).items():
            into[onward].append((state, word))
        if machine.ends(state):
            found[state] = ()
    waiting = deque(found)
    while waiting:
        state = waiting.popleft()
        for before, word in into[state]:
            if before not in found:
                found[before] = (word, *found[state])
                waiting.append(before)
    return found
