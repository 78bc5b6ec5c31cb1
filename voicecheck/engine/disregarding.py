"""Taking back more than the last call: a whole position, or all that was called about power."""

from __future__ import annotations

from voicecheck.checklist.resolved import Position
from voicecheck.engine import power, questions, second_call, timed, whereabouts
from voicecheck.engine.reopening import DISREGARDED, reopen_all
from voicecheck.engine.turn import Turn


def position(turn: Turn, position: Position) -> None:
    """Nothing that was called there counts any more; if we are there, nobody knows where we are."""
    questions.drop_but_context(turn)
    if turn.state.position == position.id:
        timed.lose_timing(turn, turn.text("untimed-position-taken-back"))
        whereabouts.unselect(turn)
    timed.cancel(turn, position.id, turn.text("untimed-position-taken-back"))
    for item in position.called:
        second_call.drop(turn, item)
    reopen_all(turn, position.called, DISREGARDED)
    gone = {item.id for item in position.called}
    turn.set(before={id_: old for id_, old in turn.state.before.items() if id_ not in gone})
    turn.note("position-disregarded", position=position.id)
    turn.insist("position-disregarded", position=position.say)


def power_wrong(turn: Turn) -> None:
    """No bus was as it was called: nothing that needs one counts any more."""
    questions.lapse(turn)
    turn.set(question=None, first_call=None, last=None)
    voided = power.void_all(turn)
    if voided:
        turn.warn("voided-all", positions=turn.list(voided))
    turn.insist("call-power", buses=turn.buses)
