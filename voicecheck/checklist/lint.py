"""Advice on a resolved checklist: order, power, windows and wordings that will not serve.

The loader refuses what has no meaning. This looks for what has one that nobody can want.
"""

from __future__ import annotations

from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from typing import Final

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, Position
from voicecheck.checklist.wordings import Alike, confusable, shared

ROOM: Final = 1.0
"""Seconds that should be left of a window (from memory, no source)."""
_NARROWER: Final = (
    "widen 'within' if the manual allows it, or lower 'hand_before', 'hand_after', "
    "'reaction_spread' or 'word_error' under 'timing' if they are known to be less"
)


def lint(checklist: Checklist, *, uncertainty: float, alike: Alike | None = None) -> list[Advice]:
    """All advice, in checklist order, wordings last.

    uncertainty: half the width of a measured interval in seconds, as the engine has it.
    alike: says why two wordings sound alike; without it, sounds are not compared.
    """
    found: list[Advice] = []
    for position in checklist.positions:
        found += _order(position)
        found += _power(position)
        found += _windows(position, uncertainty)
    found += shared(checklist)
    if alike is not None:
        found += confusable(checklist, alike)
    return found


def _order(position: Position) -> Iterator[Advice]:
    if not position.items and position.id != OFF:
        yield Advice(
            Severity.WARNING,
            "has no items, so nothing is called there",
            "give it something to expect, or mark the position not fitted",
            position.id,
        )
    at = {item.id: number for number, item in enumerate(position.items)}
    by_id = {item.id: item for item in position.items}
    for item in position.items:
        if item.window is None and not _has(item, Grade.GOOD):
            yield _item(
                Severity.ERROR,
                item,
                "has no good wording, so it can never be satisfactory",
                "add one",
            )
        for needed in item.after:
            yield from _after(item, needed, by_id.get(needed))
            if item.window is None and at.get(needed, -1) > at[item.id]:
                yield _item(
                    Severity.WARNING,
                    item,
                    f"stands before '{needed}', which must be called first",
                    "put it after that, or the crew is asked for it too early",
                )
    yield from _cycle(position)


def _after(item: Item, needed: str, found: Item | None) -> Iterator[Advice]:
    if found is None:
        yield _item(
            Severity.ERROR,
            item,
            f"comes after '{needed}', which its position does not have, so it is never reached",
            "name an item of the same position",
        )
    elif found.window is not None:
        yield _item(
            Severity.ERROR,
            item,
            f"comes after '{needed}', which is decided only when the selector has left, "
            "so it is never reached",
            "let it follow the lamp instead",
        )
    elif not _has(found, Grade.GOOD):
        yield _item(
            Severity.ERROR,
            item,
            f"comes after '{needed}', which can never be satisfactory, so it is never reached",
            f"give '{needed}' a good wording",
        )


def _cycle(position: Position) -> Iterator[Advice]:
    try:
        TopologicalSorter({item.id: item.after for item in position.items}).prepare()
    except CycleError as error:
        ring: list[str] = error.args[1]
        yield Advice(
            Severity.ERROR,
            f"is never reached: each of these waits for another, {' <- '.join(ring)}",
            "take one 'after' away",
            position.id,
            ring[0],
        )


def _power(position: Position) -> Iterator[Advice]:
    needs = {item.id: item.power for item in position.items}
    for item in position.items:
        for before in item.after:
            for bus, state in needs.get(before, {}).items():
                mine = needs[item.id].get(bus, state)
                if mine != state:
                    yield _opposite(item, before, bus, mine, state)
    for bus, state in position.power.items() if position.items else ():
        if all(item.power.get(bus, state) != state for item in position.items):
            yield Advice(
                Severity.WARNING,
                f"has '{bus} {state}', but each of its items has its own '{bus}', "
                "so it is never used",
                "take it out, or take it out of the items",
                position.id,
            )


def _opposite(item: Item, before: str, bus: str, mine: str, state: str) -> Advice:
    if item.window is not None:
        return _item(
            Severity.ERROR,
            item,
            f"is timed with '{bus} {mine}', but its lamp '{before}' is lit with '{bus} {state}'",
            "give both the same power: no time is kept over a switching of power",
        )
    return _item(
        Severity.WARNING,
        item,
        f"needs '{bus} {mine}', but comes after '{before}', which needs '{bus} {state}': "
        "switching between them may be what changes it",
        "give both the same power",
    )


def _windows(position: Position, uncertainty: float) -> Iterator[Advice]:
    for item in position.items:
        if item.window is None:
            continue
        for grade, meaning in ((Grade.GOOD, "that it went out"), (Grade.BAD, "that it stays lit")):
            if not _has(item, grade):
                yield _item(
                    Severity.ERROR, item, f"is timed, but nothing can be called to say {meaning}",
                    "add such a wording",
                )  # fmt: skip
        width, least = item.window.upper - item.window.lower, 2 * uncertainty
        if width <= least:
            yield _item(
                Severity.ERROR,
                item,
                f"has a window of {width:g} s, but spoken times are only sure to {least:.2f} s: "
                "it would always be too close to call",
                _NARROWER,
            )
        elif width - least < ROOM:
            yield _item(
                Severity.WARNING,
                item,
                f"has a window of {width:g} s, which leaves {width - least:.2f} s in which a "
                "spoken time is surely inside: it will often be too close to call",
                _NARROWER,
            )


def _has(item: Item, grade: Grade) -> bool:
    return any(reading.grade is grade and reading.phrases for reading in item.readings)


def _item(severity: Severity, item: Item, text: str, proposal: str) -> Advice:
    return Advice(severity, text, proposal, item.position, item.id)
