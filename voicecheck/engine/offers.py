"""Which callouts can be said now, and what each would do.

Derived from the checklist and the state alone: there is no other memory of what may be heard.
What is the same for many states is made once for each checklist.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from voicecheck.callouts import Callout, Stakes
from voicecheck.checklist.resolved import Checklist, Grade, Item, Reading, position_key
from voicecheck.engine.actions import (
    Action,
    CloseWindow,
    Command,
    CommandName,
    DisregardPosition,
    GiveReason,
    NameDark,
    Observe,
    Select,
    SelectNotFitted,
    SetPower,
)
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, SessionState


@dataclass(frozen=True, slots=True)
class Offer:
    """A callout and what it does."""

    callout: Callout
    action: Action


@dataclass(frozen=True, slots=True)
class Offered:
    """What can be said in one state: by key, and as a listener wants it."""

    by_key: Mapping[str, Offer]
    callouts: tuple[Callout, ...]


_STAKES: Final = {
    Grade.GOOD: Stakes.CLOSES_GOOD,
    Grade.BAD: Stakes.RECORDS_BAD,
    Grade.SHORT: Stakes.RECORDS_BAD,
}
_DEAR: Final = (CommandName.AFFIRM, CommandName.RESUME, CommandName.COMPLETE)
_ALWAYS: Final = (CommandName.SAY_AGAIN, CommandName.READ_BACK, CommandName.ABANDON)
_HELD: Final = (CommandName.RESUME, CommandName.NEGATIVE, *_ALWAYS)
_GOING_ON: Final = (
    *_ALWAYS,
    CommandName.STAND_BY,
    CommandName.NEGATIVE,
    CommandName.CORRECTION,
    CommandName.DISREGARD,
    CommandName.COMPLETE,
    CommandName.CREW_CHANGE,
    CommandName.POWER_WRONG,
)
_ANSWERS: Final = {
    None: (),
    Ask.CLAIMS: (CommandName.AFFIRM, CommandName.NEGATIVE),
    Ask.COMPLETE: (CommandName.AFFIRM, CommandName.NEGATIVE),
    Ask.ABANDON: (CommandName.NEGATIVE,),
}


def offers(checklist: Checklist, state: SessionState) -> Mapping[str, Offer]:
    """Key to offer, in a stable order: observations first, then positions, power, commands."""
    return offered(checklist, state).by_key


def offered(checklist: Checklist, state: SessionState) -> Offered:
    """What can be said in a state."""
    running = tuple(sorted(window.item for window in state.windows))
    ask = None if state.question is None else state.question.ask
    if state.phase is Phase.HELD and ask is Ask.CLAIMS and state.claims != state.power_claims:
        ask = None  # a call that is in question waits for its answer until the session goes on
    return _offered(checklist, state.phase, state.position, running, ask, _tested(checklist, state))


def _tested(checklist: Checklist, state: SessionState) -> frozenset[str]:
    """Positions of which something is known, and where we are."""
    tested = {
        checklist.item(id_).position
        for id_, record in state.records.items()
        if record.now is not None and record.now.counted
    }
    if state.position is not None:
        tested.add(state.position)
    return frozenset(tested)


@lru_cache(maxsize=4096)
def _offered(
    checklist: Checklist,
    phase: Phase,
    position: str | None,
    running: tuple[str, ...],
    ask: Ask | None,
    tested: frozenset[str],
) -> Offered:
    made = _all(checklist, phase, position, running, ask, tested)
    by_key = {offer.callout.key: offer for offer in made}
    return Offered(by_key, tuple(offer.callout for offer in by_key.values()))


def _all(
    checklist: Checklist,
    phase: Phase,
    position: str | None,
    running: tuple[str, ...],
    ask: Ask | None,
    tested: frozenset[str],
) -> Iterator[Offer]:
    if phase in (Phase.STARTING, Phase.FINISHED):
        return
    if phase is Phase.HELD:
        yield from _lamps(checklist, running)
        yield from bus_offers(checklist).values()
        yield from _commands(checklist, _HELD)
        yield from _answers(checklist, ask)
        return
    if position is not None and phase in (Phase.TESTING, Phase.AT_REST):
        yield from _observations(checklist, position)
    yield from _lamps(checklist, running)
    yield from place_offers(checklist).values()
    yield from (o for id_, o in _disregards(checklist).items() if id_ in tested)
    yield from bus_offers(checklist).values()
    yield from _commands(checklist, _GOING_ON)
    yield from _answers(checklist, ask)


@lru_cache(maxsize=1024)
def _observations(checklist: Checklist, position: str) -> tuple[Offer, ...]:
    found = []
    for item in checklist.position(position).called:
        for reading in item.readings:
            if item.window is not None:
                # Called here, before the selector moves, neither wording can close it as good.
                found.append(_offer(reading, Stakes.RECORDS_BAD, CloseWindow(item, reading)))
            else:
                found.append(_offer(reading, _STAKES[reading.grade], Observe(item, reading)))
        found += [_offer(r, Stakes.RECORDS_BAD, NameDark(item, r)) for r in item.darks]
    return tuple(found)


def _lamps(checklist: Checklist, running: tuple[str, ...]) -> Iterator[Offer]:
    for item in checklist.items if running else ():
        if item.id in running:
            yield from _closing(checklist, item.id)


@lru_cache(maxsize=1024)
def _closing(checklist: Checklist, item_id: str) -> tuple[Offer, ...]:
    item: Item = checklist.item(item_id)
    return tuple(_offer(r, _STAKES[r.grade], CloseWindow(item, r)) for r in item.readings)


def _offer(reading: Reading, stakes: Stakes, action: Action) -> Offer:
    return Offer(Callout(reading.key, reading.phrases, stakes, joins=True), action)


@lru_cache(maxsize=64)
def place_offers(checklist: Checklist) -> Mapping[str, Offer]:
    """A call for each position of the selector, and for those that this airframe lacks."""
    found: dict[str, Offer] = {}
    for position in checklist.positions:
        callout = Callout(position_key(position.id), position.select, Stakes.ADVANCES)
        found[callout.key] = Offer(callout, Select(position))
    select = checklist.positions[0]
    for gone in checklist.not_fitted:
        key = position_key(gone.position)
        if gone.say is not None and key not in found:
            phrases = tuple(phrase.replace(select.say, gone.say) for phrase in select.select)
            callout = Callout(key, phrases, Stakes.ASKS)
            found[key] = Offer(callout, SelectNotFitted(gone.position_name, gone.reason))
    return found


@lru_cache(maxsize=64)
def _disregards(checklist: Checklist) -> Mapping[str, Offer]:
    """By position, the call that takes back all that was called there."""
    return {
        place.id: Offer(
            Callout(f"disregard:{place.id}", place.disregard, Stakes.ADVANCES),
            DisregardPosition(place),
        )
        for place in checklist.positions
        if place.disregard
    }


@lru_cache(maxsize=64)
def bus_offers(checklist: Checklist) -> Mapping[str, Offer]:
    """A call for each state of each bus."""
    made = (
        Offer(
            Callout(f"power:{bus.id}:{state}", phrases, Stakes.ADVANCES, joins=True, asked=True),
            SetPower(bus.id, state),
        )
        for bus in checklist.buses
        for state, phrases in (("on", bus.on), ("off", bus.off))
    )
    return {offer.callout.key: offer for offer in made}


def _answers(checklist: Checklist, ask: Ask | None) -> Iterator[Offer]:
    """What answers the open question, if there is one."""
    if ask is Ask.ABANDON:
        for reason, phrases in checklist.reasons.items():
            callout = Callout(f"reason:{reason}", phrases, Stakes.ADVANCES)
            yield Offer(callout, GiveReason(reason))
    yield from _commands(checklist, _ANSWERS[ask])


@lru_cache(maxsize=256)
def _commands(checklist: Checklist, names: tuple[CommandName, ...]) -> tuple[Offer, ...]:
    return tuple(
        Offer(
            Callout(
                f"command:{name.value}",
                checklist.commands[name],
                Stakes.ADVANCES if name in _DEAR else Stakes.ASKS,
            ),
            Command(name),
        )
        for name in names
        if name in checklist.commands  # journals from before a command do not know it
    )
