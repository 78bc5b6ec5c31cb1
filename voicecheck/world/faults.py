"""Faults of a simulated aircraft: what can be wrong, where, and how often it shows."""

from __future__ import annotations

import difflib
import enum
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from voicecheck.checklist.resolved import OFF, Checklist, Item, Shows
from voicecheck.errors import VoicecheckError

TRAINING_FAULTS: Final = 3
PROOF_FAULTS: Final = 4
"""At most so many where they are left to chance: for a student, and for the proof."""


class FaultKind(enum.StrEnum):
    """What is wrong. The target is a caption, an item's id or a bus's id."""

    LAMP_DARK = "lamp-dark"
    """A caption: the bulb, dark wherever it should light. An item: what feeds its lamps."""
    LAMP_STUCK = "lamp-stuck"
    """A caption: lit whenever there is power."""
    LAMP_DIM = "lamp-dim"
    LAMP_COLOUR = "lamp-colour"
    """A caption: lit in another colour than its own."""
    LAMP_EXTRA = "lamp-extra"
    """A caption: lights in the position after its own, too."""
    OUT_EARLY = "out-early"
    OUT_LATE = "out-late"
    NEVER_OUT = "never-out"
    SILENT = "silent"
    """A sound or a shaker that does not come."""
    NOT_SILENCED = "not-silenced"
    WRONGLY_SILENCED = "wrongly-silenced"
    NO_RETURN = "no-return"
    WRONG_CANCEL = "wrong-cancel"
    """A warning that resets although it must stay, or the other way round."""
    WRONG_READING = "wrong-reading"
    SWITCH_STUCK = "switch-stuck"
    """A switch that does not go back where it was."""
    BUS_DEAD = "bus-dead"
    BUS_STAYS_ON = "bus-stays-on"
    ANY_POWER = "any-power"
    """An item that shows whatever the buses are."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. share: of the visits to a position in which it shows; below 1 intermittent."""

    kind: FaultKind
    target: str
    share: float = 1.0

    def __str__(self) -> str:
        often = "" if self.share == 1.0 else f"~{self.share:g}"
        return f"{self.kind}:{self.target}{often}"


_OF_LAMPS: Final = (
    *(FaultKind.LAMP_STUCK, FaultKind.LAMP_DIM, FaultKind.LAMP_COLOUR, FaultKind.LAMP_EXTRA),
)
"""The first can be seen of a lamp that must stay dark, too."""
_BY_SHOWS: Final = {
    Shows.GOES_OUT: (FaultKind.OUT_EARLY, FaultKind.OUT_LATE, FaultKind.NEVER_OUT),
    Shows.SOUNDS: (FaultKind.SILENT,),
    Shows.FELT: (FaultKind.SILENT,),
    Shows.FALLS_SILENT: (FaultKind.NOT_SILENCED,),
    Shows.SOUNDS_ON: (FaultKind.WRONGLY_SILENCED,),
    Shows.RETURNS: (FaultKind.NO_RETURN,),
    Shows.RESETS: (FaultKind.WRONG_CANCEL,),
    Shows.STAYS: (FaultKind.WRONG_CANCEL,),
    Shows.READS: (FaultKind.WRONG_READING,),
    Shows.BACK: (FaultKind.SWITCH_STUCK,),
}
INTERMITTENT: Final = 0.5
"""Share of the visits in which a randomly chosen intermittent fault shows."""


def possible(checklist: Checklist) -> tuple[Fault, ...]:
    """Every fault that this airframe can have, each lasting."""
    return tuple(dict.fromkeys(_possible(checklist)))


def _possible(checklist: Checklist) -> Iterator[Fault]:
    for item in checklist.items:
        yield from _of_lamps(item)
        if item.shows is not None and not (item.shows is Shows.READS and item.position == OFF):
            others = _BY_SHOWS.get(item.shows, ()) if len(item.readings) > 1 else ()
            yield from (Fault(kind, item.id) for kind in others)
        if needs(checklist, item):
            yield Fault(FaultKind.ANY_POWER, item.id)
    for bus in checklist.buses:
        yield Fault(FaultKind.BUS_DEAD, bus.id)
        yield Fault(FaultKind.BUS_STAYS_ON, bus.id)


def _of_lamps(item: Item) -> Iterator[Fault]:
    kinds = _OF_LAMPS if item.shows in (Shows.LIT, Shows.THROWN) else _OF_LAMPS[:1]
    for lamp in item.lamps:
        if item.shows is not Shows.DARK:
            yield Fault(FaultKind.LAMP_DARK, lamp.caption)
        yield from (Fault(kind, lamp.caption) for kind in kinds)
    if kinds == _OF_LAMPS:
        yield Fault(FaultKind.LAMP_DARK, item.id)


def needs(checklist: Checklist, item: Item) -> dict[str, str]:
    """The power that an item is to be tested under: its position's and its own.

    What nobody has foreseen is seen under any.
    """
    if item.unforeseen:
        return {}
    return {**checklist.position(item.position).power, **item.power}


def chosen_at_random(checklist: Checklist, count: int, random: random.Random) -> tuple[Fault, ...]:
    """Different faults, one in four of them intermittent. count: at most all possible ones."""
    everything = possible(checklist)
    picked = random.sample(everything, min(count, len(everything)))
    return tuple(
        Fault(fault.kind, fault.target, INTERMITTENT if random.random() < 0.25 else 1.0)
        for fault in picked
    )


def faults_from(text: str, checklist: Checklist, random: random.Random) -> tuple[Fault, ...]:
    """Faults as a user writes them, parted by commas.

    ``KIND:TARGET`` or ``KIND:TARGET~SHARE``, for instance ``lamp-dark:FIRE L~0.5``;
    ``random:N`` for N of any kind; ``none``. Raises VoicecheckError with the remedy.
    """
    found: list[Fault] = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        if part == "none":
            continue
        kind, _, rest = part.partition(":")
        if kind == "random":
            if not re.fullmatch(r"\d{1,3}", rest):
                raise VoicecheckError(f"--faults {part}: write random:N, for instance random:2")
            found += chosen_at_random(checklist, int(rest), random)
        else:
            found.append(_one(part, kind, rest, checklist))
    return tuple(found)


def faults_of_session(
    text: str, checklist: Checklist, chance: random.Random, most: int
) -> tuple[Fault, ...]:
    """The same for one session, where ``random`` alone is none to `most` of any kind."""
    if text == "random":
        text = f"random:{chance.randint(0, most)}"
    return faults_from(text, checklist, chance)


def _one(part: str, kind: str, rest: str, checklist: Checklist) -> Fault:
    kinds = [known.value for known in FaultKind]
    if kind not in kinds:
        close = difflib.get_close_matches(kind, kinds, n=1)
        hint = f"did you mean {close[0]}?" if close else f"known are: {', '.join(kinds)}, random"
        raise VoicecheckError(f"--faults {part}: no such fault '{kind}'; {hint}")
    target, _, share = rest.partition("~")
    can = {fault.target for fault in possible(checklist) if fault.kind == kind}
    by_fold = {known.casefold(): known for known in can}
    known = by_fold.get(target.strip().casefold())
    if known is None:
        hint = f"one of: {', '.join(sorted(can))}" if can else "nothing on this airframe has it"
        raise VoicecheckError(f"--faults {part}: '{target}' cannot have it; {hint}")
    if not share:
        return Fault(FaultKind(kind), known)
    if not re.fullmatch(r"0?\.\d+|1(\.0+)?", share) or not float(share):
        raise VoicecheckError(f"--faults {part}: '~{share}' is no share; write for instance ~0.5")
    return Fault(FaultKind(kind), known, float(share))
