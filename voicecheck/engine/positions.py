"""The selector moves: what is left behind, what is entered, and what must be seen again."""

from __future__ import annotations

from voicecheck.checklist.resolved import OFF, Position
from voicecheck.engine import timed, whereabouts
from voicecheck.engine.phases import Phase
from voicecheck.engine.reopening import reopen_rest
from voicecheck.engine.state import Claim, PositionCalled
from voicecheck.engine.turn import Turn


def select(turn: Turn, position: Position, said: Claim) -> None:
    """Go to a position: leave the present one, start its windows, announce the new one."""
    left = turn.position
    if left is not None and left.id == position.id and turn.phase is not Phase.BETWEEN:
        timed.cancel(turn, position.id, turn.text("untimed-selected-again"))
    if left is not None and left.id != position.id:
        _leave(turn, left, said)
    timed.cancel(turn, position.id, turn.text("untimed-went-back"))
    if position.id != OFF:
        reopen_rest(turn)
    turn.move("rest" if position.id == OFF else "select")
    turn.set(
        position=position.id,
        visit=turn.state.visit + 1,
        visited=(*turn.state.visited[-1:], position.id),
        dark_asked=None,
        first_call=None,
        last=PositionCalled(position.id, said.words),
        missed_from=None,
    )
    whereabouts.forget_known(turn)
    turn.note("position", position=position.id, visit=turn.state.visit, at=said.end)
    _announce(turn, position)


def stay(turn: Turn, position: Position, said: Claim) -> None:
    """The selector is still there, and the visit goes on."""
    turn.set(last=PositionCalled(position.id, said.words), missed_from=None)
    turn.note("position", position=position.id, visit=turn.state.visit, at=said.end)
    turn.say("ack", words=position.say)


def _announce(turn: Turn, position: Position) -> None:
    turn.say("ack", words=position.say)
    if position.caution:
        turn.warn("caution", text=position.caution)
    remind_of_power(turn)
    if not turn.outstanding(position):
        propose_next(turn)


def _leave(turn: Turn, left: Position, said: Claim) -> None:
    open_here = turn.outstanding(left)
    timed.open_windows(turn, left, said)
    if open_here:
        names = turn.list(item.expected for item in open_here)
        turn.note("left-early", position=left.id, items=[item.id for item in open_here])
        turn.warn("left-early", position=left.say, items=names)


def remind_of_power(turn: Turn) -> None:
    """Say which power the open items of the present position still lack."""
    position = turn.position
    if position is None:
        return
    wanted: dict[str, str] = {}
    for item in turn.outstanding(position):
        wanted |= turn.lacking(item.power)
    if wanted:
        turn.say("needs-power", position=position.say, needs=turn.spoken_power(wanted))


def say_outstanding(turn: Turn, position: Position) -> bool:
    """Say what is still to be called at a position; False when there is nothing."""
    left = turn.outstanding(position)
    if left:
        turn.say("outstanding", items=turn.list(item.expected for item in left))
    return bool(left)


def propose_next(turn: Turn) -> None:
    """When nothing is left to call here, say so and propose the next position, once."""
    position = turn.position
    if position is None or _waits(turn) or turn.outstanding(position):
        return
    ahead = turn.next_position()
    timed_here = [item for item in position.items if item.window is not None]
    if not all(turn.counted(item) or turn.blocked(item) for item in timed_here):
        calls = turn.list(item.readings[0].phrases[0] for item in timed_here)
        turn.say("position-done-timed", position=position.name, calls=calls)
    elif ahead is not None:
        turn.say("position-done", position=position.name, next=ahead.select[0])
    elif not turn.state.windows:  # the lamp that still runs comes first
        turn.say("position-done-last", position=position.name)


def _waits(turn: Turn) -> bool:
    """Whether an answer is awaited first."""
    return turn.state.question is not None or turn.state.dark_asked is not None
