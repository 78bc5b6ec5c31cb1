"""What nobody has foreseen: seen or heard beside what is expected, and called at its position.

It is a finding of the position and never good, whatever the power. All that is called of one
position stands together until it is taken back: looking again and seeing something else as well
makes nothing of it better.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from voicecheck.engine import second_call
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.reopening import SEEN_SINCE, reopen
from voicecheck.engine.state import CalledAgain, ItemCalled, Outcome
from voicecheck.engine.turn import Turn


def is_so(_turn: Turn, call: ItemCall) -> bool:
    """Whether the call is about something that the checklist does not expect."""
    return call.item.unforeseen


def write_down(turn: Turn, call: ItemCall) -> None:
    """A finding, with all that was called of the position before; and the crew is told."""
    item, words, old = call.item, call.said.words, turn.record(call.item.id)
    _doubt_dark(turn, call)
    reason, called, again = call.reading.finding or words, words, None
    if old.now is not None and old.now.counted:
        if words in old.now.called.split(turn.text("comma")):
            turn.set(last=CalledAgain(item.id, old.now.called))
            turn.say("ack", words=words)
            return
        reason = turn.list((old.now.reason or "", reason))
        called, again = turn.list((old.now.called, words)), turn.text("called-again")
    result = turn.result_of(call.said, Outcome.UNSATISFACTORY, reason=reason)
    turn.put(item, replace(result, called=called), instead=again)
    turn.set(last=ItemCalled(item.id, words, old))
    turn.warn("other-finding", words=words, position=turn.checklist.position(item.position).say)


def _doubt_dark(turn: Turn, call: ItemCall) -> None:
    """Where nothing at all should show, it does not stand as good that nothing does."""
    for item in turn.checklist.position(call.item.position).items:
        if call.item.id in item.dark_of:
            second_call.drop(turn, item)
            if reopen(turn, item, SEEN_SINCE, call=call.said.words):
                turn.warn("outstanding", items=item.expected)


ANYTHING_ELSE: Final = CallRule(
    number="13.1",
    of=frozenset({Scene.OBSERVED}),
    when="something that nobody has foreseen is seen or heard",
    holds=is_so,
    then=write_down,
    stands="a finding of the position, with all that was called so there",
    says=("other-finding", "ack"),
    proof=(
        "test_unforeseen.py::test_all_that_was_called_of_a_position_stands_together",
        "test_unforeseen.py::test_another_visit_takes_nothing_of_it_away",
    ),
)
