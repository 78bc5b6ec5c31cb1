"""The nearest meaning of words that no pattern has: words are passed over, none is made up.

Only ever a question. What denies, doubts or counts is never passed over, so that "I don't think the
horn is sounding" is not near to "horn sounding".
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from voicecheck.meaning.automaton import Automaton, State

MOST: Final = 200
"""States that are followed at once; those with the fewest words passed over."""


def nearest(
    words: Sequence[str],
    machine: Automaton,
    keys: Collection[str],
    kept: Collection[str],
    passed: int,
) -> frozenset[str]:
    """The keys that the words mean when as few as possible of them are passed over.

    kept: words that are not passed over. passed: how many may be; more words must be read than
    passed over, and two at least. Empty when nothing is as near as that.
    """
    at: dict[State, int] = {machine.begin: 0}
    for word in words:
        onward: dict[State, int] = {}
        for state, cost in at.items():
            following = machine.moves(state).get(word)
            if following is not None:
                onward[following] = min(cost, onward.get(following, cost))
            if word not in kept and cost < passed:
                onward[state] = min(cost + 1, onward.get(state, cost + 1))
        at = dict(sorted(onward.items(), key=lambda pair: pair[1])[:MOST])
    found: dict[int, set[str]] = {}
    for state, cost in at.items():
        read = len(words) - cost
        ends = machine.ends(state).intersection(keys)
        if ends and read > 1 and read >= 2 * cost:
            found.setdefault(cost, set()).update(ends)
    return frozenset(found[min(found)]) if found else frozenset()
