"""Time passes: deadlines, the battery's time, and reminders after a silence."""

from __future__ import annotations

from math import inf
from typing import Final

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import positions, questions, timed
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import SessionState
from voicecheck.engine.turn import Turn

MAX_REMINDERS: Final = 2


def wake(checklist: Checklist, state: SessionState) -> float | None:
    """Stream time at which the next Passed event is wanted, if any."""
    if state.phase in (Phase.STARTING, Phase.FINISHED):
        return None
    times = [timed.due(state, window) for window in state.windows]
    times.append(_reminder_at(checklist, state))
    if not state.battery_warned:
        times.append(_battery_due(checklist, state))
    soonest = min(times)
    return None if soonest == inf else soonest


def passed(turn: Turn) -> None:
    """Do what is due by now."""
    timed.deadlines(turn)
    if not turn.state.battery_warned and turn.now >= _battery_due(turn.checklist, turn.state):
        minutes = turn.checklist.battery_minutes
        turn.set(battery_warned=True)
        turn.warn("battery-time", minutes=f"{minutes:g}")
        turn.note("battery-time", minutes=minutes)
    if turn.now >= _reminder_at(turn.checklist, turn.state):
        _remind(turn)


def _battery_due(checklist: Checklist, state: SessionState) -> float:
    limit, since = checklist.battery_minutes, state.battery_from
    return since + limit * 60 if limit and since is not None else inf


def _reminder_at(checklist: Checklist, state: SessionState) -> float:
    if state.reminders >= MAX_REMINDERS or state.phase is Phase.HELD:
        return inf
    return state.quiet_from + checklist.timing.silence


def _remind(turn: Turn) -> None:
    turn.set(reminders=turn.state.reminders + 1, quiet_from=turn.now)
    position = turn.position
    if turn.state.question is not None:
        questions.repeat(turn)
    elif position is not None and positions.say_outstanding(turn, position):
        return
    elif (ahead := turn.next_position()) is not None:
        turn.say("next", next=ahead.select[0])
