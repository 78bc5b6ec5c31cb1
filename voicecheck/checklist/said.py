"""How everything that a checklist offers may be said: its network of wordings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from voicecheck.checklist.resolved import OFF, Checklist, Grade, Means, position_key
from voicecheck.language.sayings import MEANS, SayingsFile
from voicecheck.meaning.network import Network, Ways
from voicecheck.meaning.pattern import OneOf, Pattern, Row, Rule, Times, parse
from voicecheck.meaning.spelling import Spelling


def network_of(checklist: Checklist, sayings: SayingsFile | None) -> Network:
    """The network of a checklist; without sayings, its taught wordings alone."""
    if sayings is None:
        return Network({key: Ways(taught) for key, taught, *_ in _callouts(checklist)}, {})
    spelling = Spelling(sayings.split, frozenset(sayings.neutral), tuple(sayings.same.items()))
    rules = {name: parse(text) for name, text in sayings.rules.items()}
    carriers = sayings.carriers
    rules["before"], after = parse(carriers.before), parse(carriers.after)
    for name, own in (("after", ""), ("after-good", carriers.good), ("after-bad", carriers.bad)):
        rules[name] = OneOf((after, parse(own))) if own else after
    rules = {name: spelling.pattern(pattern) for name, pattern in rules.items()}
    made = _Making(sayings, spelling)
    ways = {key: made.ways(key, *rest) for key, *rest in _callouts(checklist)}  # type: ignore[arg-type]
    return Network(ways, rules, spelling, sayings.listeners, frozenset(sayings.denials))


_Callout = tuple[str, tuple[str, ...], Means | None, Grade | None, tuple[str, ...]]


def _callouts(checklist: Checklist) -> Iterator[_Callout]:
    """Key, taught wordings, meaning, grade and names of the position of all that can be called."""
    at = {place.id: (place.say, *place.also) for place in checklist.positions}
    for item in (*checklist.items, *checklist.others):
        for reading in (*item.readings, *item.darks):
            here = at.get(item.position, ())
            yield reading.key, reading.phrases, reading.means, reading.grade, here
    yield from _places(checklist)
    for bus in checklist.buses:
        for state, taught in (("on", bus.on), ("off", bus.off)):
            means = Means((state,), (("it", (bus.say, *bus.also)),))
            yield f"power:{bus.id}:{state}", taught, means, None, ()
    for name, phrases in checklist.commands.items():
        yield f"command:{name}", phrases, None, None, ()
    for reason, phrases in checklist.reasons.items():
        yield f"reason:{reason}", phrases, None, None, ()


def _places(checklist: Checklist) -> Iterator[_Callout]:
    for position in checklist.positions:
        names = (position.say, *position.also)
        off = position.id == OFF
        means = Means(("selector-off",)) if off else Means(("select",), (("it", names),))
        yield position_key(position.id), position.select, means, None, ()
        if position.disregard:
            yield f"disregard:{position.id}", position.disregard, None, None, ()
    known = {position.id for position in checklist.positions}
    first = checklist.positions[0]
    for gone in {g.position: g for g in checklist.not_fitted}.values():
        if gone.say is not None and gone.position not in known:
            taught = tuple(phrase.replace(first.say, gone.say) for phrase in first.select)
            means = Means(("select",), (("it", (gone.say,)),))
            yield position_key(gone.position), taught, means, None, ()


class _Making:
    """Fills the names of each callout into the patterns of what it means."""

    def __init__(self, sayings: SayingsFile, spelling: Spelling) -> None:
        self._sayings = sayings
        self._spelling = spelling
        self._means = {name: self._parsed(sayings.means.get(name, ())) for name in MEANS}
        self._elided = {name: self._parsed(sayings.elided.get(name, ())) for name in MEANS}
        (self._bare,) = self._parsed((sayings.bare,))
        (self._place,) = self._parsed((sayings.carriers.place,))

    def ways(
        self,
        key: str,
        taught: tuple[str, ...],
        means: Means | None,
        grade: Grade | None,
        at: tuple[str, ...],
    ) -> Ways:
        kind, _, name = key.partition(":")
        if kind == "command":
            return Ways(taught, self._parsed(self._sayings.commands.get(name, ())))
        if means is None:
            return Ways(taught)
        names = {slot: OneOf(self._parsed(texts)) for slot, texts in means.names}
        said = self._all(self._means, means, names)
        bare = self._all(self._elided, means, names)
        if grade is not None:
            said = self._there(said, at)
            if "it" in names:
                bare = (*bare, _filled(self._bare, names))
        after = {Grade.GOOD: "after-good", None: "after"}.get(grade, "after-bad")
        return Ways(taught, said, after, bare)

    def _there(self, patterns: tuple[Pattern, ...], at: tuple[str, ...]) -> tuple[Pattern, ...]:
        """What may be said with the name of the position before or after it."""
        if not (at and patterns and self._sayings.carriers.place):
            return patterns
        place = _filled(self._place, {"at": OneOf(self._parsed(at))})
        return (Row((place, OneOf(patterns), place)),)

    def _all(
        self,
        wordings: Mapping[str, tuple[Pattern, ...]],
        means: Means,
        names: Mapping[str, Pattern],
    ) -> tuple[Pattern, ...]:
        return tuple(
            _filled(pattern, names)
            for predicate in means.predicates
            for pattern in wordings[predicate]
            if _fits(pattern, names)
        )

    def _parsed(self, texts: Iterable[str]) -> tuple[Pattern, ...]:
        return tuple(self._spelling.pattern(parse(text)) for text in texts)


def _fits(pattern: Pattern, names: Mapping[str, Pattern]) -> bool:
    """Whether each name that a pattern must have is there: not every lamp has a colour's word."""
    match pattern:
        case Rule(name):
            return name in names or name not in _SLOTS
        case Row(parts):
            return all(_fits(part, names) for part in parts)
        case OneOf(parts):
            return any(_fits(part, names) for part in parts)
    return True


_SLOTS: Final = frozenset(slot for slots in MEANS.values() for slot in slots)


def _filled(pattern: Pattern, names: Mapping[str, Pattern]) -> Pattern:
    match pattern:
        case Rule(name):
            return names.get(name, pattern)
        case Row(parts):
            return Row(tuple(_filled(part, names) for part in parts))
        case OneOf(parts):
            return OneOf(tuple(_filled(p, names) for p in parts if _fits(p, names)))
        case Times(part):
            return Times(_filled(part, names))
    return pattern
