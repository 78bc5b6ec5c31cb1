"""Wordings that can be said at the same time: which are shared, and which sound alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, Position

Alike = Callable[[str, str], str | None]
"""Says why two different wordings sound alike ("1 sound apart"), or None."""


@dataclass(frozen=True, slots=True)
class Wording:
    """A wording as it can be said in one position.

    key: what it means; two wordings with one key are the same callout. meaning: the same in
    words. closes_good: would, in this position, record something as good. position, item: of
    which item it is a reading.
    """

    key: str
    phrase: str
    meaning: str
    closes_good: bool = False
    position: str | None = None
    item: str | None = None


def said_together(checklist: Checklist, position: Position) -> list[Wording]:
    """All wordings that can be said with the selector at a position, whatever runs or is asked.

    Timed lamps of the other positions are among them, for they may still run.
    """
    together = [w for item in position.items for w in _readings(item, here=True)]
    for item in checklist.items:
        if item.window is not None and item.position != position.id:
            together += _readings(item, here=False)
    return [*together, *_everywhere(checklist)]


def shared(checklist: Checklist) -> Iterator[Advice]:
    """Wordings that would mean two things at once; they are never acted on."""
    told: set[tuple[str, frozenset[str]]] = set()
    for position in checklist.positions:
        first: dict[str, Wording] = {}
        for wording in said_together(checklist, position):
            other = first.setdefault(wording.phrase, wording)
            pair = (wording.phrase, frozenset((other.key, wording.key)))
            if other.key == wording.key or pair in told:
                continue
            told.add(pair)
            about = other if other.item is not None else wording
            yield Advice(
                Severity.ERROR,
                f"'{wording.phrase}' means both {other.meaning} and {wording.meaning}",
                "give one of them another wording",
                about.position,
                about.item,
            )


def confusable(checklist: Checklist, alike: Alike) -> Iterator[Advice]:
    """Pairs of different meaning that sound alike, where one of them records a good result.

    Such a result is not asked about. Callouts that close nothing as good, such as those of
    buses among themselves, are left alone.
    """
    told: set[frozenset[str]] = set()
    for position in checklist.positions:
        together = said_together(checklist, position)
        for good in (wording for wording in together if wording.closes_good):
            for other in together:
                pair = frozenset((good.phrase, other.phrase))
                if other.key == good.key or len(pair) == 1 or pair in told:
                    continue
                why = alike(good.phrase, other.phrase)
                if why is None:
                    continue
                told.add(pair)
                yield Advice(
                    Severity.WARNING,
                    f"'{good.phrase}' ({good.meaning}) sounds like '{other.phrase}' "
                    f"({other.meaning}): {why}",
                    "call one of them by another name or another verb, with more sounds that "
                    "the other lacks",
                    good.position,
                    good.item,
                )


def _readings(item: Item, *, here: bool) -> Iterator[Wording]:
    for reading in (*item.readings, *item.darks):
        good = reading.grade is Grade.GOOD
        meaning = f"{item.id} {'good' if good else 'not good'}"
        # A timed lamp that is called out before the selector moves is a finding.
        closes_good = good and not (here and item.window is not None)
        for phrase in reading.phrases:
            yield Wording(reading.key, phrase, meaning, closes_good, item.position, item.id)


def _everywhere(checklist: Checklist) -> Iterator[Wording]:
    for position in checklist.positions:
        key = "selector:off" if position.id == OFF else f"select:{position.id}"
        for phrase in position.select:
            yield Wording(key, phrase, f"position {position.id}")
    first = checklist.positions[0]
    for gone in checklist.not_fitted:
        for phrase in first.select if gone.say is not None else ():
            said = phrase.replace(first.say, gone.say or "")
            yield Wording(f"select:{gone.position}", said, f"position {gone.position}")
    for bus in checklist.buses:
        for state, phrases in (("on", bus.on), ("off", bus.off)):
            for phrase in phrases:
                yield Wording(f"power:{bus.id}:{state}", phrase, f"bus {bus.id} {state}")
    for name, phrases in checklist.commands.items():
        for phrase in phrases:
            yield Wording(f"command:{name}", phrase, f"the command {name}")
    for reason, phrases in checklist.reasons.items():
        for phrase in phrases:
            yield Wording(f"reason:{reason}", phrase, f"the reason '{reason}'")
