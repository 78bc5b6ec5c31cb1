"""A switch that was thrown is put back: asked for after good throws and bad ones alike."""

from __future__ import annotations

from voicecheck.checklist.resolved import Item
from voicecheck.engine import second_call
from voicecheck.engine.item_call import ItemCall
from voicecheck.engine.reopening import THROWN_SINCE, reopen
from voicecheck.engine.standing import NOTHING, Standing
from voicecheck.engine.turn import Turn


def thrown(turn: Turn, call: ItemCall) -> None:
    """The call of a throw, whatever becomes of it: the switch is not where it was called back."""
    for item in turn.checklist.position(call.item.position).items:
        if item.put_back and call.item.id in item.after:
            second_call.drop(turn, item)
            if reopen(turn, item, THROWN_SINCE):
                turn.warn("outstanding", items=item.expected)


def was_thrown(standing: Standing, item: Item) -> bool:
    """Whether any throw of a switch was ever called, counted or not."""
    return item.put_back and any(standing.record(throw) != NOTHING for throw in item.after)


def remind(turn: Turn) -> None:
    """Name the switches that were thrown and not called back."""
    left = [i for i in turn.checklist.items if was_thrown(turn, i) and not turn.counted(i)]
    if left:
        turn.warn("not-put-back", items=turn.list(item.expected for item in left))
