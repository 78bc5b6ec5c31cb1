"""The selector moves: what is left behind, what is entered, and what must be seen again."""

from __future__ import annotations

from dataclasses import replace

from voicecheck.checklist.resolved import OFF, Position
from voicecheck.engine import observe, power, timed, whereabouts
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Claim, LastAct, Outcome, Record
from voicecheck.engine.turn import Turn


def select(turn: Turn, position: Position, said: Claim) -> None:
    """Go to a position: leave the present one, start its windows, announce the new one."""
    left = turn.position
    if left is not None and left.id == position.id and turn.phase is not Phase.BETWEEN:
        timed.cancel(turn, position.id, "the position was selected again")
    if left is not None and left.id != position.id:
        _leave(turn, left, said)
    timed.cancel(turn, position.id, "the selector went back before the lamp was called")
    if position.id != OFF:
        _reopen_rest(turn)
    turn.phases.move("rest" if position.id == OFF else "select")
    turn.set(
        position=position.id,
        visit=turn.state.visit + 1,
        visited=(*turn.state.visited[-1:], position.id),
        dark_asked=None,
        read_back=None,
        last=LastAct("position", position.id, said.words),
        missed_from=None,
    )
    whereabouts.settle(turn)
    turn.note("position", position=position.id, visit=turn.state.visit, at=said.end)
    _announce(turn, position)


def _reopen_rest(turn: Turn) -> None:
    """The selector leaves off: what was seen there must be seen again at the end."""
    for item in turn.checklist.positions[-1].items:
        record = turn.record(item.id)
        if record.now is not None:
            bad = record.now.outcome is Outcome.UNSATISFACTORY
            why = None if bad else "the selector left off again"
            old = replace(record.now, withdrawn=why)
            turn.restore(item.id, Record(None, (*record.past, old)))


def _announce(turn: Turn, position: Position) -> None:
    turn.say("ack", words=position.say)
    if position.caution:
        turn.warn("caution", text=position.caution)
    remind_of_power(turn)
    if not observe.outstanding(turn, position):
        observe.after_call(turn)


def remind_of_power(turn: Turn) -> None:
    """Say which power the open items of the present position still lack."""
    position = turn.position
    if position is None:
        return
    wanted: dict[str, str] = {}
    for item in observe.outstanding(turn, position):
        wanted |= power.lacking(turn, power.needs(position, item))
    if wanted:
        turn.say("needs-power", position=position.say, needs=power.spoken_needs(turn, wanted))


def _leave(turn: Turn, left: Position, said: Claim) -> None:
    open_here = observe.outstanding(turn, left)
    timed.open_windows(turn, left, said)
    if open_here:
        names = ", ".join(item.expected for item in open_here)
        turn.note("left-early", position=left.id, items=[item.id for item in open_here])
        turn.warn("left-early", position=left.say, items=names)
