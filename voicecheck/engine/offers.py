"""Which callouts can be said now, and what each would do.

The list is recomputed from the state after every event: there is no other memory of what
may be heard.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from voicecheck.callouts import Callout, Stakes
from voicecheck.checklist.resolved import Checklist, Grade, Item, Position, Reading, position_key
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, SessionState


@dataclass(frozen=True, slots=True)
class Observe:
    """Record a reading of an item in the current position."""

    item: Item
    reading: Reading


@dataclass(frozen=True, slots=True)
class NameDark:
    """Name one dark lamp of a group."""

    item: Item
    reading: Reading


@dataclass(frozen=True, slots=True)
class CloseWindow:
    """Say what became of a lamp that must go out (or did before the selector moved)."""

    item: Item
    reading: Reading


@dataclass(frozen=True, slots=True)
class Select:
    """The selector goes to a position."""

    position: Position


@dataclass(frozen=True, slots=True)
class SelectNotFitted:
    """The crew names a position that this airframe does not have."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class SetPower:
    """A bus is on or off."""

    bus: str
    state: str


@dataclass(frozen=True, slots=True)
class Command:
    """One of language.COMMANDS."""

    name: str


@dataclass(frozen=True, slots=True)
class GiveReason:
    """Why the test is abandoned, in words for the record."""

    reason: str


Action = (
    Observe | NameDark | CloseWindow | Select | SelectNotFitted | SetPower | Command | GiveReason
)


@dataclass(frozen=True, slots=True)
class Offer:
    """A callout and what it does."""

    callout: Callout
    action: Action


_STAKES = {
    Grade.GOOD: Stakes.CLOSES_GOOD,
    Grade.BAD: Stakes.RECORDS_BAD,
    Grade.SHORT: Stakes.RECORDS_BAD,
}

_DEAR = ("affirm", "resume", "complete")
_ALWAYS = ("say-again", "read-back", "abandon")


def offers(checklist: Checklist, phase: Phase, state: SessionState) -> dict[str, Offer]:
    """Key to offer, in a stable order: observations first, then positions, power, commands."""
    if phase in (Phase.STARTING, Phase.FINISHED):
        return {}
    return {offer.callout.key: offer for offer in _all(checklist, phase, state)}


def _all(checklist: Checklist, phase: Phase, state: SessionState) -> Iterator[Offer]:
    if phase is Phase.HELD:
        yield from _windows(checklist, state)
        yield from _commands(checklist, ("resume", *_ALWAYS))
        if state.question is not None and state.question.ask is not Ask.CLAIMS:
            yield from _answers(checklist, state)
        return
    if state.position is not None and phase in (Phase.TESTING, Phase.AT_REST):
        yield from _observations(checklist.position(state.position))
    yield from _windows(checklist, state)
    yield from positions(checklist)
    yield from _power(checklist)
    yield from _commands(
        checklist, (*_ALWAYS, "stand-by", "correction", "disregard", "complete", "crew-change")
    )
    yield from _answers(checklist, state)


def _observations(position: Position) -> Iterator[Offer]:
    for item in position.items:
        for reading in item.readings:
            stakes = _STAKES[reading.grade]
            if item.window is not None:
                # Called here, before the selector moves, neither wording can close it as good.
                yield _offer(reading, Stakes.RECORDS_BAD, CloseWindow(item, reading))
            else:
                yield _offer(reading, stakes, Observe(item, reading))
        for reading in item.darks:
            yield _offer(reading, Stakes.RECORDS_BAD, NameDark(item, reading))


def _windows(checklist: Checklist, state: SessionState) -> Iterator[Offer]:
    running = {window.item for window in state.windows}
    for item in checklist.items if running else ():
        if item.id in running:
            for reading in item.readings:
                yield _offer(reading, _STAKES[reading.grade], CloseWindow(item, reading))


def _offer(reading: Reading, stakes: Stakes, action: Action) -> Offer:
    return Offer(Callout(reading.key, reading.phrases, stakes, joins=True), action)


def positions(checklist: Checklist) -> Iterator[Offer]:
    """A call for each position of the selector, and for those that this airframe lacks."""
    for position in checklist.positions:
        callout = Callout(position_key(position.id), position.select, Stakes.ADVANCES)
        yield Offer(callout, Select(position))
    select = checklist.positions[0]
    seen: set[str] = set()
    for gone in checklist.not_fitted:
        if gone.say is not None and gone.position not in seen:
            seen.add(gone.position)
            phrases = tuple(phrase.replace(select.say, gone.say) for phrase in select.select)
            callout = Callout(f"select:{gone.position}", phrases, Stakes.ASKS)
            yield Offer(callout, SelectNotFitted(gone.position_name, gone.reason))


def _power(checklist: Checklist) -> Iterator[Offer]:
    for bus in checklist.buses:
        for state, phrases in (("on", bus.on), ("off", bus.off)):
            key = f"power:{bus.id}:{state}"
            callout = Callout(key, phrases, Stakes.ADVANCES, joins=True, asked=True)
            yield Offer(callout, SetPower(bus.id, state))


def _answers(checklist: Checklist, state: SessionState) -> Iterator[Offer]:
    """What answers the open question, if there is one."""
    if state.question is None:
        return
    if state.question.ask is Ask.ABANDON:
        for reason, phrases in checklist.reasons.items():
            callout = Callout(f"reason:{reason}", phrases, Stakes.ADVANCES)
            yield Offer(callout, GiveReason(reason))
        yield from _commands(checklist, ("negative",))
    else:
        yield from _commands(checklist, ("affirm", "negative"))


def _commands(checklist: Checklist, names: tuple[str, ...]) -> Iterator[Offer]:
    for name in names:
        stakes = Stakes.ADVANCES if name in _DEAR else Stakes.ASKS
        yield Offer(Callout(f"command:{name}", checklist.commands[name], stakes), Command(name))
