"""A part fails, or is back."""

from __future__ import annotations

from typing import Final

from voicecheck.engine import airframe, commands, timed
from voicecheck.engine.events import Lost, Part, Restored
from voicecheck.engine.phases import LIVE, Phase
from voicecheck.engine.turn import Turn

TIMEKEEPERS: Final = (Part.MICROPHONE, Part.SESSION)
"""Parts without which nothing that runs can be timed: the session holds until they are back."""


def lost(turn: Turn, event: Lost) -> None:
    """Without a timekeeper nothing can be timed, and we hold. Told twice, it is said once."""
    new = event.part not in turn.state.lost
    if new:
        turn.set(lost=(*turn.state.lost, event.part))
        turn.note("lost", part=event.part)
    if event.part in TIMEKEEPERS:
        timed.missed(turn, event.at, event.at)
        timed.lose_timing(turn, turn.text("untimed-part-lost", part=turn.part(event.part)))
        if new and turn.phase in LIVE:
            commands.hold(turn, event.part)
        if turn.phase is Phase.HELD:
            turn.set(held_from=turn.now, cut=True)
    if event.part == Part.SESSION:
        airframe.forget(turn)
    if new:
        turn.warn("part-lost", part=turn.part(event.part))


def restored(turn: Turn, event: Restored) -> None:
    """Go on, if it was for a part alone that we held, and all timekeepers are back."""
    if event.part not in turn.state.lost:
        return
    turn.set(lost=tuple(part for part in turn.state.lost if part != event.part))
    turn.note("restored", part=event.part)
    turn.say("part-restored", part=turn.part(event.part))
    if event.part == Part.SESSION:
        turn.insist("call-power", buses=turn.buses)
    if turn.phase is not Phase.HELD:
        return
    if turn.state.held_by is None:
        # A "resume" may have been lost with it: who talks on now must know that we wait.
        turn.insist("holding", place=turn.place)
    elif not set(TIMEKEEPERS) & set(turn.state.lost):
        commands.resume(turn)
