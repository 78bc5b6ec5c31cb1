"""What each reading means, and the names of what it is about: for wordings that nobody taught.

The names come from the file (`call`, `say`, `also`); which words may follow a lamp's name, and how
several are called, from the language. Patterns: voicecheck.meaning.pattern.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Final

from voicecheck.checklist import model
from voicecheck.checklist.resolved import Grade, Item, Means, Reading, Shows
from voicecheck.language import Language
from voicecheck.language.sayings import SayingsFile

_Slots = tuple[tuple[str, tuple[str, ...]], ...]
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
    Shows.NOTHING: ("reads", "reads"),
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
    if not predicate:  # a switch that does not go back is said as the file says it
        return Means((), ())
    if isinstance(expectation, model.Gauge):
        return _gauge(item, reading, expectation, predicate)
    if isinstance(expectation, model.Throws) and item.shows is Shows.THROWN:
        throw = next(t for t in expectation.throws if item.id.endswith(f"-{t.id}"))
        return Means((predicate,), _slots(it=(throw.say, *throw.also)))
    names = (expectation.call, *expectation.also)
    if isinstance(expectation, model.Lamps):
        return Means((predicate,), _one_lamp(names, expectation, sayings))
    if isinstance(expectation, model.Absent | model.Extinguish):
        names = names_of(names, sayings)
    return Means((predicate,), _slots(it=names))


def _gauge(item: Item, reading: Reading, gauge: model.Gauge, predicate: str) -> Means:
    bad = {f"{item.id}:bad-{at}": wrong.reads for at, wrong in enumerate(gauge.bad)}
    reads = bad.get(reading.key, gauge.reads)
    return Means((predicate,) if reads and gauge.also else (), _slots(it=gauge.also, reads=reads))


def _one_lamp(names: tuple[str, ...], lamps: model.Lamps, sayings: SayingsFile) -> _Slots:
    own = (name for lamp in lamps.lamps for name in (lamp.say, *lamp.also))
    return _slots(it=names_of((*names, *own), sayings), colour=_colour(lamps, sayings))


def _count(n: int, lamps: model.Lamps, language: Language, sayings: SayingsFile) -> Means:
    total = len(lamps.lamps)
    names = (" ".join(lamps.call.replace("#", "").split()), *lamps.also)
    if total == 1:
        return Means(("lit" if n else "dark",), _one_lamp(names, lamps, sayings))
    side = lamps.call.endswith("#")
    each = (_either(lamp.say, *lamp.also) for lamp in lamps.lamps)
    slots = _slots(
        it=names if side else _each(_several, names, sayings),
        one=names if side else _each(_single, names, sayings),
        n=(language.number(n),),
        total=(language.number(total),),
        lamps=(" [and] ".join(each),),
        colour=_colour(lamps, sayings),
    )
    predicates = _predicates(n, total)
    if side:  # "left side three": other patterns, and none for two lamps or for one
        predicates = tuple(f"side-{p}" for p in predicates if p not in ("both", "neither", "one"))
    return Means(predicates, slots)


def _predicates(n: int, total: int) -> tuple[str, ...]:
    """What can be said of n lamps lit among several."""
    found = ["all" if n == total else "none" if n == 0 else "some"]
    if total == 2 and n != 1:
        found.append("both" if n else "neither")
    if n == 1:
        found.append("one")
    if n == total - 1:
        found.append("one-dark")
    return tuple(found)


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
                    colour=_colour(expectation, sayings),
                ),
            ),
        )
        for reading, lamp in zip(item.darks, expectation.lamps, strict=True)
    )


def _each(
    how: Callable[[str, SayingsFile], tuple[str, ...]],
    names: tuple[str, ...],
    sayings: SayingsFile,
) -> tuple[str, ...]:
    return tuple(pattern for name in names for pattern in how(name, sayings))


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


def _slots(**names: tuple[str, ...]) -> _Slots:
    return tuple((slot, patterns) for slot, patterns in names.items() if any(patterns))
