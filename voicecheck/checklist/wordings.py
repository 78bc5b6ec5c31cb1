"""Wordings that can be said at the same time: which are shared, and which sound alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.resolved import Checklist, Grade, Item, Position, position_key


class Alike(Protocol):
    """Compares how wordings sound."""

    def __call__(self, one: str, other: str) -> str | None:
        """Why two different wordings sound alike ("distance 2.1, limit 3"), or None."""

    def clearer(self, phrase: str, others: Sequence[str]) -> str | None:
        """What to call it instead, so that it sounds like none of the others, or None."""


_POWER: Final = "power:"
_COMMAND: Final = "command:"


@dataclass(frozen=True, slots=True)
class Wording:
    """A wording as it can be said in one position.

    key: what it means; two wordings with one key are the same callout. meaning: the same in
    words. closes_good: would, in this position, record something as good. position, item: of
    which item it is a reading. taught: it is the first wording of what it means, the one that
    the crew is taught.
    """

    key: str
    phrase: str
    meaning: str
    closes_good: bool = False
    position: str | None = None
    item: str | None = None
    taught: bool = True


def said_together(checklist: Checklist, position: Position) -> list[Wording]:
    """All wordings that can be said with the selector at a position, whatever runs or is asked.

    Timed lamps of the other positions are among them, for they may still run.
    """
    together = [w for item in position.called for w in _readings(item, here=True)]
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
    """Pairs of different meaning that sound alike: one of them will have to be asked about.

    Callouts of buses among themselves are left alone: they are always asked about. So are
    two that both record something bad, which the crew hears read back, and a second wording,
    which the crew need not use.
    """
    told: set[frozenset[str]] = set()
    for position in checklist.positions:
        together = said_together(checklist, position)
        for dear, other in _to_compare(together):
            pair = frozenset((dear.phrase, other.phrase))
            why = None if pair in told else alike(dear.phrase, other.phrase)
            if why is not None:
                told.add(pair)
                yield _too_close(dear, other, why, together, alike)


def _to_compare(together: Sequence[Wording]) -> Iterator[tuple[Wording, Wording]]:
    """Each dear wording beside every other of another meaning, as far as it matters."""
    for dear in together:
        if not (dear.taught and _dear(dear)):
            continue
        for other in together:
            if other.key == dear.key or other.phrase == dear.phrase:
                continue
            if dear.closes_good or other.closes_good or not _asked(dear, other):
                yield dear, other


def _dear(wording: Wording) -> bool:
    return wording.closes_good or wording.key.startswith(("select:", "selector:", _COMMAND))


def _asked(one: Wording, other: Wording) -> bool:
    return one.key.startswith(_POWER) or other.key.startswith(_POWER)


def _too_close(
    dear: Wording, other: Wording, why: str, together: Sequence[Wording], alike: Alike
) -> Advice:
    if dear.key.startswith(_COMMAND) and other.key.startswith(_COMMAND):
        severity = Severity.ERROR  # neither can be asked about
        then = "and a command cannot be asked about"
    else:
        severity = Severity.WARNING
        then = "so it is asked about each time" if dear.closes_good else "so one is asked about"
    proposals = []
    for wording, rest in ((dear, other), (other, dear)):
        others = [w.phrase for w in together if w.key != wording.key]
        clearer = alike.clearer(wording.phrase, [*others, rest.phrase])
        if clearer is not None:
            proposals.append(f"instead of '{wording.phrase}' {clearer}")
    return Advice(
        severity,
        f"'{dear.phrase}' ({dear.meaning}) sounds like '{other.phrase}' "
        f"({other.meaning}): {why}, {then}",
        " or ".join(proposals)
        or "call one of them by another name or another verb, with more sounds that "
        "the other lacks",
        dear.position,
        dear.item,
    )


def _readings(item: Item, *, here: bool) -> Iterator[Wording]:
    for reading in (*item.readings, *item.darks):
        good = reading.grade is Grade.GOOD
        meaning = f"{item.id} {'good' if good else 'not good'}"
        # A timed lamp that is called out before the selector moves is a finding.
        closes_good = good and not (here and item.window is not None)
        for phrase in reading.phrases:
            taught = phrase == reading.phrases[0]
            yield Wording(reading.key, phrase, meaning, closes_good, item.position, item.id, taught)


def _everywhere(checklist: Checklist) -> Iterator[Wording]:
    for position in checklist.positions:
        key = position_key(position.id)
        for phrase in position.select:
            yield Wording(key, phrase, f"position {position.id}")
        for phrase in position.disregard:
            meaning = f"nothing of position {position.id}"
            yield Wording(f"disregard:{position.id}", phrase, meaning)
    first = checklist.positions[0]
    for gone in checklist.not_fitted:
        for phrase in first.select if gone.say is not None else ():
            said = phrase.replace(first.say, gone.say or "")
            yield Wording(f"select:{gone.position}", said, f"position {gone.position}")
    for key, meaning, phrases in _everywhere_else(checklist):
        for phrase in phrases:
            yield Wording(key, phrase, meaning)


def _everywhere_else(checklist: Checklist) -> Iterator[tuple[str, str, Sequence[str]]]:
    """Key, meaning and wordings of buses, commands and reasons."""
    for bus in checklist.buses:
        for state, phrases in (("on", bus.on), ("off", bus.off)):
            yield f"power:{bus.id}:{state}", f"bus {bus.id} {state}", phrases
    for name, phrases in checklist.commands.items():
        yield f"command:{name}", f"the command {name}", phrases
    for reason, phrases in checklist.reasons.items():
        yield f"reason:{reason}", f"the reason '{reason}'", phrases
