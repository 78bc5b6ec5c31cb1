"""Power as the crew called it: claims, confirmations, and what a change makes void."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from voicecheck.checklist.resolved import Item, Position
from voicecheck.engine import read_back
from voicecheck.engine.offers import SetPower
from voicecheck.engine.state import Ask, Claim, LastAct, Outcome, Question, Result
from voicecheck.engine.turn import Turn
from voicecheck.engine.windows import WindowVerdict


def needs(position: Position, item: Item) -> dict[str, str]:
    """Power that this item needs: the position's, overridden by its own."""
    return {**position.power, **item.power}


def standing(turn: Turn) -> dict[str, str]:
    """Confirmed bus states."""
    return {bus: state for bus, state in turn.state.power.items() if state is not None}


def lacking(turn: Turn, wanted: Mapping[str, str]) -> dict[str, str]:
    """The needs that are not met: bus to wanted state, unknown ones included."""
    known = standing(turn)
    return {bus: state for bus, state in wanted.items() if known.get(bus) != state}


def spoken_needs(turn: Turn, wanted: Mapping[str, str]) -> str:
    """For instance "avionics off, battery on", in the first wording of each bus."""
    words = []
    for bus in turn.checklist.buses:
        if bus.id in wanted:
            words.append(bus.on[0] if wanted[bus.id] == "on" else bus.off[0])
    return ", ".join(words)


def claim(turn: Turn, action: SetPower, said: Claim) -> None:
    """A bus was called. On and off differ by one sound, so it counts only once affirmed."""
    question = turn.state.question
    prefix = f"power:{action.bus}:"
    earlier = question.claims if question and question.ask is Ask.CLAIMS else ()
    kept = tuple(
        c for c in earlier if c.callout.startswith("power:") and not c.callout.startswith(prefix)
    )
    _set(turn, action.bus, None)
    turn.set(question=Question(Ask.CLAIMS, (*kept, said)))
    turn.set(last=LastAct("question", "", said.words))
    ask(turn)


def ask(turn: Turn) -> None:
    """Read the open claims back and ask for a yes."""
    question = turn.state.question
    if question is None or question.ask is not Ask.CLAIMS:
        return
    turn.ask("confirm", claims=", ".join(c.words for c in question.claims))


def affirm(turn: Turn, action: SetPower, said: Claim) -> None:
    """The crew said yes: the bus is in this state since the words were spoken."""
    _set(turn, action.bus, action.state)
    turn.set(last=LastAct("power", action.bus, said.words))
    turn.note("power", bus=action.bus, state=action.state, since=said.end)
    log = (*turn.state.power_log, (action.bus, action.state, said.end))
    turn.set(power_log=log)
    if action.bus == "battery":
        _battery_clock(turn, action.state, said.end)
    void_under(turn, action, said.start)


def forget(turn: Turn, bus: str) -> None:
    """The crew took a power call back or denied it: the bus is unknown until called again."""
    _set(turn, bus, None)
    turn.note("power", bus=bus, state="unknown", since=turn.now)


def void_under(turn: Turn, action: SetPower, since: float) -> None:
    """What does not fit the new state of a bus becomes void.

    That is every result of the present visit, unless the position switches the bus on purpose,
    and every result anywhere that was called after the bus had already changed.
    """
    for position in turn.checklist.positions:
        here = position is turn.position and action.bus not in _switched_on_purpose(position)
        voided = []
        for item in position.items:
            if not _clashes(position, item, action):
                continue
            read_back.drop(turn, item)
            now = turn.result(item.id)
            if now is None or not now.counted:
                continue
            this_visit = here and now.visit == turn.state.visit
            if this_visit or now.start >= since:
                wanted = spoken_needs(turn, {action.bus: needs(position, item)[action.bus]})
                reason = f"needs {wanted}; power was changed during the test"
                turn.put(item, replace(now, outcome=Outcome.VOID, reason=reason), instead=reason)
                voided.append(item.expected)
        if voided:
            turn.warn("voided", items=", ".join(voided), position=position.say)
    _void_windows(turn, action, since)


def _clashes(position: Position, item: Item, action: SetPower) -> bool:
    return needs(position, item).get(action.bus) not in (None, action.state)


def _switched_on_purpose(position: Position) -> set[str]:
    """Buses that some items of the position need on and others off: to be switched in it."""
    wanted = {bus_state for item in position.items for bus_state in needs(position, item).items()}
    return {bus for bus, state in wanted if state == "on" and (bus, "off") in wanted}


def _void_windows(turn: Turn, action: SetPower, since: float) -> None:
    kept = []
    for window in turn.state.windows:
        item = turn.item(window.item)
        position = turn.checklist.position(item.position)
        if not _clashes(position, item, action):
            kept.append(window)
            continue
        wanted = spoken_needs(turn, {action.bus: needs(position, item)[action.bus]})
        reason = f"needs {wanted}; power was changed while it was timed"
        called = WindowVerdict.CANCELLED.value
        result = Result(Outcome.VOID, "", called, since, since, turn.state.visit, reason)
        turn.put_inconclusive(item, result)
        turn.warn("voided", items=item.expected, position=position.say)
    turn.set(windows=tuple(kept))


def _set(turn: Turn, bus: str, state: str | None) -> None:
    turn.set(power={**turn.state.power, bus: state})


def _battery_clock(turn: Turn, state: str, at: float) -> None:
    if state == "on" and turn.state.battery_from is None:
        turn.set(battery_from=at, battery_warned=False)
    elif state == "off":
        turn.set(battery_from=None, battery_warned=False)
