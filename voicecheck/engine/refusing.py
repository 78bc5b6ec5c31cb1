"""Calls that do not count: without the power that the item needs, or before an earlier stage."""

from __future__ import annotations

from voicecheck.engine import power, second_call
from voicecheck.engine.item_call import ItemCall
from voicecheck.engine.turn import Turn


def lacks_power(turn: Turn, call: ItemCall) -> bool:
    """Whether a bus that the item needs is not affirmed so."""
    return bool(turn.lacking(call.item.power))


def _stage_needed(turn: Turn, call: ItemCall) -> str | None:
    item = call.item
    return next((needed for needed in item.after if not turn.stage_done(item, needed)), None)


def lacks_stage(turn: Turn, call: ItemCall) -> bool:
    """Whether a stage before it has not been called as it must be."""
    return _stage_needed(turn, call) is not None


def for_stage(turn: Turn, call: ItemCall) -> None:
    """Say what comes first; bad news is not lost."""
    needed = _stage_needed(turn, call)
    assert needed is not None
    first = turn.checklist.item(needed).expected
    reason = turn.text("needs-first", first=first)
    turn.note("refused", item=call.item.id, called=call.said.words, reason=reason)
    if call.bad:
        power.void_good(turn, call.item, call.said, reason)
        second_call.drop(turn, call.item)
    turn.say("first", needed=first)


def for_power(turn: Turn, call: ItemCall) -> None:
    """Say what power is needed; bad news is not lost."""
    power.refuse(turn, call.item, call.said, bad=call.bad)
    if call.bad:
        second_call.drop(turn, call.item)
