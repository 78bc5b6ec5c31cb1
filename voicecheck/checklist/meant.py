"""What each reading means, and the names of what it is about: for wordings that nobody taught.

The names come from the file (`call`, `say`, `also`); which words may follow a lamp's name, and how
several are called, from the language. Patterns: voicecheck.meaning.pattern.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final

from voicecheck.checklist import model
from voicecheck.checklist.resolved import Grade, Item, Means, Reading, Shows
from voicecheck.language import Language
from voicecheck.language.sayings import SayingsFile

_OF_TWO: Final[Mapping[Shows, tuple[str, str]]] = {
    Shows.LIT: ("lit", "dark"),
    Shows.DARK: ("dark", "lit"),
    Shows.THROWN: ("thrown-lit", "thrown-dark"),
    Shows.BACK: ("back", ""),
    Shows.GOES_OUT: ("goes-out", "stays-lit"),
    Shows.SOUNDS: ("sounds", "silent"),
    Shows.FALLS_SILENT: ("stops", "goes-on"),
    Shows.SOUNDS_ON: ("goes-on", "stops"),
    Shows.RETURNS: ("returns", "stays-quiet"),
    Shows.FELT: ("felt", "not-felt"),
    Shows.READS: ("reads", "reads"),
    Shows.RESETS: ("resets", "stays"),
    Shows.STAYS: ("stays", "resets"),
}
"""What an item is about: the predicate of its good reading, and of the bad one."""


def with_meaning(
    items: Iterable[Item], expectation: model.Expectation, language: Language
) -> tuple[Item, ...]:
    """The items with what their readings mean; as they are where the language has no sayings."""
    sayings = language.sayings
    if sayings is None:
        return tuple(items)
    made = []
    for item in items:
        means = [_means(item, r, expectation, language, sayings) for r in item.readings]
        readings = tuple(map(_with, item.readings, means))
        darks = _darks(item, expectation, sayings)
        made.append(replace(item, readings=readings, darks=darks))
    return tuple(made)


def names_of(names: Iterable[str], sayings: SayingsFile) -> tuple[str, ...]:
    """Patterns of a lamp's names: each with the words that may follow such a name."""
    nouns = f"({' | '.join(sayings.nouns)})" if sayings.nouns else ""
    found: dict[str, None] = {}
    for name in names:
        head, _, last = name.rpartition(" ")
        if not nouns:
            found[name] = None
        elif head and last in sayings.nouns:
            found[f"{head} {nouns}"] = None
        else:
            found[f"{name} [{nouns}]"] = None
    return tuple(found)


def _with(reading: Reading, means: Means) -> Reading:
    return replace(reading, means=means)


def _means(
    item: Item,
    reading: Reading,
    expectation: model.Expectation,
    language: Language,
    sayings: SayingsFile,
) -> Means:
    if isinstance(expectation, model.Lamps) and "#" in expectation.call:
        return _count(int(reading.key.rpartition(":")[2]), expectation, language, sayings)
    assert item.shows is not None
    predicate = _OF_TWO[item.shows][reading.grade is not Grade.GOOD]
    if isinstance(expectation, model.Gauge):
        bad = {f"{item.id}:bad-{at}": b.reads for at, b in enumerate(expectation.bad)}
        reads = bad.get(reading.key, expectation.reads)
        names = expectation.also
        return Means((predicate,) if reads and names else (), _slots(it=names, reads=reads))
    if isinstance(expectation, model.Throws) and item.shows is Shows.THROWN:
        throw = next(t for t in expectation.throws if item.id.endswith(f"-{t.id}"))
        return Means((predicate,), _slots(it=(throw.say, *throw.also)))
    names = (expectation.call, *expectation.also)
    colour: tuple[str, ...] = ()
    if isinstance(expectation, model.Lamps):
        names += tuple(name for lamp in expectation.lamps for name in (lamp.say, *lamp.also))
        colour = _colour(expectation, sayings)
    if isinstance(expectation, model.Lamps | model.Absent | model.Extinguish):
        names = names_of(names, sayings)
    return Means((predicate,), _slots(it=names, colour=colour))


def _count(n: int, lamps: model.Lamps, language: Language, sayings: SayingsFile) -> Means:
    total = len(lamps.lamps)
    side = "side-" if lamps.call.endswith("#") else ""
    predicates = ["all" if n == total else "none" if n == 0 else "some"]
    if total == 2 and n != 1 and not side:
        predicates.append("both" if n else "neither")
    if n == 1 < total and not side:
        predicates.append("one")
    if n == total - 1 and n:
        predicates.append("one-dark")
    if total == 1:
        predicates = ["lit" if n else "dark"]
    name = " ".join(lamps.call.replace("#", "").split())
    names = (name, *lamps.also)
    each = tuple(_either(lamp.say, *lamp.also) for lamp in lamps.lamps)
    if total == 1:
        single = names_of((*names, lamps.lamps[0].say, *lamps.lamps[0].also), sayings)
        return Means(tuple(predicates), _slots(it=single, colour=_colour(lamps, sayings)))
    slots = _slots(
        it=names if side else tuple(several for one in names for several in _several(one, sayings)),
        one=names if side else tuple(single for one in names for single in _single(one, sayings)),
        n=(language.number(n),),
        total=(language.number(total),),
        lamps=(" [and] ".join(each),),
        colour=_colour(lamps, sayings),
    )
    return Means(tuple(f"{side}{predicate}" for predicate in predicates), slots)


def _darks(item: Item, expectation: model.Expectation, sayings: SayingsFile) -> tuple[Reading, ...]:
    """Each dark lamp with its names; `which` is what tells it from the others of its group."""
    if not (item.darks and isinstance(expectation, model.Lamps)):
        return item.darks
    common = set.intersection(*(set(lamp.say.split()) for lamp in expectation.lamps))
    return tuple(
        replace(
            reading,
            means=Means(
                ("named-dark",),
                _slots(
                    it=names_of((lamp.say, *lamp.also), sayings),
                    which=(" ".join(w for w in lamp.say.split() if w not in common) or lamp.say,),
                ),
            ),
        )
        for reading, lamp in zip(item.darks, expectation.lamps, strict=True)
    )


def _several(name: str, sayings: SayingsFile) -> tuple[str, ...]:
    head, _, last = name.rpartition(" ")
    nouns = [f"{noun}{sayings.plural}" for noun in sayings.nouns]
    after = f"({' | '.join(nouns)})" if nouns else ""
    if head and last in nouns:
        return (f"{head} {after}",)
    plain = name.removesuffix(sayings.plural) if sayings.plural else name
    return (f"{plain} [{after}]" if after else plain, f"{plain}{sayings.plural}")


def _single(name: str, sayings: SayingsFile) -> tuple[str, ...]:
    head, _, last = name.rpartition(" ")
    nouns = [f"{noun}{sayings.plural}" for noun in sayings.nouns]
    if head and last in nouns:
        return names_of((f"{head} {last.removesuffix(sayings.plural)}",), sayings)
    return names_of((name.removesuffix(sayings.plural) if sayings.plural else name,), sayings)


def _colour(lamps: model.Lamps, sayings: SayingsFile) -> tuple[str, ...]:
    return (sayings.colours.get(lamps.lamps[0].colour, ""),)


def _either(*names: str) -> str:
    return f"({' | '.join(names)})"


def _slots(**names: tuple[str, ...]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple((slot, patterns) for slot, patterns in names.items() if any(patterns))
