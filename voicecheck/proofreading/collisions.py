"""What crews may say that would mean two things: named before anybody says it.

Nothing of it is ever acted on. It is told so that a name can be given to one thing alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.resolved import Checklist, Position
from voicecheck.checklist.said import network_of
from voicecheck.checklist.wordings import said_together
from voicecheck.meaning.automaton import Automaton
from voicecheck.meaning.network import Network, Ways
from voicecheck.meaning.pattern import Pattern
from voicecheck.meaning.proof import Lost, Shared, lost, shared
from voicecheck.meaning.spelling import Spelling

_Said = tuple[tuple[str, Ways], ...]


def collisions(loaded: Loaded) -> Iterator[Advice]:
    """A note for each position: a shortest wording of each set of callouts that share one.

    A warning where what closes an item as good could be meant by a wording that is taught for
    another callout: that is acted on as it is taught.
    """
    checklist = loaded.checklist
    network = network_of(checklist, loaded.language.sayings)
    told: set[frozenset[str]] = set()
    for position in checklist.positions:
        asked = []
        said = _both(checklist, network, position.id)
        yield from _taken_as_taught(checklist, network, position, said)
        for found in _of_position(network, *said):
            if found.keys in told:
                continue
            told.add(found.keys)
            asked.append(f"'{' '.join(found.words)}' ({_meanings(found.keys, network)})")
        if asked:
            yield Advice(
                Severity.NOTE,
                f"could mean several things: {'; '.join(asked)}",
                "none of it is acted on, the crew is asked which",
                position.id,
            )


def losable(loaded: Loaded, position_id: str) -> Iterator[Lost]:
    """Wordings that become one which closes an item as good when a single word is lost.

    The wide ones of those are acted on by ear only after a yes (speech.wide).
    """
    checklist = loaded.checklist
    network = network_of(checklist, loaded.language.sayings)
    local, rest = _machines(network, *_both(checklist, network, position_id))
    position = checklist.position(position_id)
    good = {w.key for w in said_together(checklist, position) if w.closes_good}
    yield from lost(local, local, good)
    yield from lost(rest, local, good)


def _taken_as_taught(
    checklist: Checklist, network: Network, position: Position, said: tuple[_Said, _Said]
) -> Iterator[Advice]:
    together = said_together(checklist, position)
    good = {w.key for w in together if w.closes_good}
    machines = _machines(network, *said)
    for wording in together:
        words = network.words(wording.phrase)
        keys = frozenset().union(*(machine.ends(machine.read(words)) for machine in machines))
        if good & (keys - {wording.key}):
            yield Advice(
                Severity.WARNING,
                f"'{wording.phrase}' is taught for {wording.meaning} and could mean "
                f"{_meanings(keys, network)}",
                "give one of them another 'call', or take away the name in 'also' that makes it so",
                position.id,
                wording.item,
            )


def _of_position(network: Network, here: _Said, everywhere: _Said) -> Iterator[Shared]:
    rules = tuple(network.rules.items())
    yield from _shared(here, here, rules, network.spelling)
    yield from _shared(here, everywhere, rules, network.spelling)
    yield from _shared(everywhere, everywhere, rules, network.spelling)


def _both(checklist: Checklist, network: Network, position_id: str) -> tuple[_Said, _Said]:
    """What is said of the items there and of lamps that may run, and what is said everywhere."""
    together = said_together(checklist, checklist.position(position_id))
    ours = dict.fromkeys(w.key for w in together if w.item is not None)
    rest = dict.fromkeys(w.key for w in together if w.item is None)
    everywhere = (key for key in rest if not key.startswith("reason:"))
    return _said(network, ours), _said(network, everywhere)


def _said(network: Network, keys: Iterable[str]) -> _Said:
    return tuple((key, network.ways[key]) for key in keys)


def _machines(network: Network, *said: _Said) -> list[Automaton]:
    rules = tuple(network.rules.items())
    return [_automaton(each, rules, network.spelling) for each in said]


@lru_cache(maxsize=256)
def _shared(
    ours: _Said, rest: _Said, rules: tuple[tuple[str, Pattern], ...], spelling: Spelling
) -> tuple[Shared, ...]:
    """Kept: the airframes of a type have most of their positions in common."""
    one = _automaton(ours, rules, spelling)
    return tuple(shared(one, one if ours == rest else _automaton(rest, rules, spelling)))


@lru_cache(maxsize=8)
def _automaton(
    said: _Said, rules: tuple[tuple[str, Pattern], ...], spelling: Spelling
) -> Automaton:
    return Network(dict(said), dict(rules), spelling).together(key for key, _ in said)


def _meanings(keys: frozenset[str], network: Network) -> str:
    return ", ".join(f"'{network.ways[key].taught[0]}'" for key in sorted(keys))
