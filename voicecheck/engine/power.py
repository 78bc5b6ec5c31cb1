"""Power as the crew called it: claims, confirmations, and what a change makes void."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from voicecheck.checklist.resolved import Item, Position
from voicecheck.engine.offers import SetPower
from voicecheck.engine.state import Ask, BusState, Claim, LastAct, Outcome, Question, Result
from voicecheck.engine.turn import Turn
from voicecheck.engine.windows import WindowVerdict


def needs(position: Position, item: Item) -> dict[str, str]:
    """Power that this item needs: the position's, overridden by its own."""
    return {**position.power, **item.power}


def standing(turn: Turn) -> dict[str, str]:
    """Confirmed bus states."""
    return {bus: s.state for bus, s in turn.state.power.items() if s.state is not None}


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
    _set(turn, action.bus, None, said.end)
    turn.set(question=Question(Ask.CLAIMS, (*kept, said)))
    ask(turn)


def ask(turn: Turn) -> None:
    """Read the open claims back and ask for a yes."""
    question = turn.state.question
    if question is None or question.ask is not Ask.CLAIMS:
        return
    turn.ask("confirm", claims=", ".join(c.words for c in question.claims))


def affirm(turn: Turn, action: SetPower, said: Claim) -> None:
    """The crew said yes: the bus is in this state since the words were spoken."""
    _set(turn, action.bus, action.state, said.end)
    turn.set(last=LastAct("power", action.bus, said.words))
    turn.note("power", bus=action.bus, state=action.state, since=said.end)
    log = (*turn.state.power_log, (action.bus, action.state, said.end))
    turn.set(power_log=log)
    if action.bus == "battery":
        _battery_clock(turn, action.state, said.end)
    void_under(turn, said.start)


def forget(turn: Turn, bus: str) -> None:
    """The crew took a power call back or denied it: the bus is unknown until called again."""
    _set(turn, bus, None, turn.now)
    turn.note("power", bus=bus, state="unknown", since=turn.now)


def void_under(turn: Turn, since: float) -> None:
    """Results of the present visit that do not fit the power any more become void."""
    position = turn.position
    if position is None:
        return
    voided = []
    for item in position.items:
        now = turn.this_visit(item.id)
        if now is None or not now.counted:
            continue
        missing = lacking(turn, needs(position, item))
        for bus in _switched_on_purpose(position):
            missing.pop(bus, None)
        if missing:
            reason = f"needs {spoken_needs(turn, missing)}; power was changed during the test"
            void = replace(now, outcome=Outcome.VOID, reason=reason)
            turn.put(item, void, instead=reason)
            voided.append(item.expected)
    _void_windows(turn, since)
    if voided:
        turn.warn("voided", items=", ".join(voided), position=position.say)


def _switched_on_purpose(position: Position) -> set[str]:
    """Buses that some items of the position need on and others off: to be switched in it."""
    wanted = {bus_state for item in position.items for bus_state in needs(position, item).items()}
    return {bus for bus, state in wanted if (bus, "off" if state == "on" else "on") in wanted}


def _void_windows(turn: Turn, since: float) -> None:
    kept = []
    for window in turn.state.windows:
        item = turn.item(window.item)
        position = turn.checklist.position(item.position)
        missing = lacking(turn, needs(position, item))
        if not missing:
            kept.append(window)
            continue
        reason = f"needs {spoken_needs(turn, missing)}; power was changed while it was timed"
        called = WindowVerdict.CANCELLED.value
        result = Result(Outcome.VOID, "", called, since, since, turn.state.visit, reason)
        turn.put(item, result)
        turn.warn("voided", items=item.expected, position=position.say)
    turn.set(windows=tuple(kept))


def _set(turn: Turn, bus: str, state: str | None, at: float) -> None:
    turn.set(power={**turn.state.power, bus: BusState(state, at)})


def _battery_clock(turn: Turn, state: str, at: float) -> None:
    if state == "on" and turn.state.battery_from is None:
        turn.set(battery_from=at, battery_warned=False)
    elif state == "off":
        turn.set(battery_from=None, battery_warned=False)
