"""Good news that nothing shows: not while a lamp is timed, nor unasked where one was called lit."""

from __future__ import annotations

from typing import Final

from voicecheck.checklist.resolved import Grade
from voicecheck.engine import questions, second_call, timed
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.state import Outcome, Result
from voicecheck.engine.turn import Turn


def is_timed(turn: Turn, call: ItemCall) -> bool:
    """Whether a lamp still runs that must be out for this to be good."""
    return not call.bad and bool(_running(turn, call))


def refuse(turn: Turn, call: ItemCall) -> None:
    """Say which call is wanted. That the lamp is out may have been meant, so it may be its call."""
    running = [turn.checklist.item(item) for item in _running(turn, call)]
    reason = turn.text("needs-dark", lamps=turn.list(item.reports for item in running))
    turn.note("refused", item=call.item.id, called=call.said.words, reason=reason)
    timed.may_be_called(turn, call.said.start, call.item.dark_of)
    turn.warn("not-dark", calls=turn.list(r.phrases[0] for i in running for r in i.readings))


def _running(turn: Turn, call: ItemCall) -> list[str]:
    return [window.item for window in turn.state.windows if window.item in call.item.dark_of]


def is_called_lit(turn: Turn, call: ItemCall) -> bool:
    """Whether something was called lit that may have gone out since, and there is no yes yet."""
    if call.bad or call.affirmed or second_call.by_other(turn, call):
        return False
    return _called_lit(turn, call) is not None


def confirm(turn: Turn, call: ItemCall) -> None:
    """Nothing counts before a yes."""
    lit = _called_lit(turn, call)
    assert lit is not None
    questions.pose(turn, (call.said,), call.said.words)
    turn.insist("confirm-change", earlier=lit.called, now=call.said.words)


def _called_lit(turn: Turn, call: ItemCall) -> Result | None:
    """A finding that stands, of what this denies, and that was called, not measured."""
    for item_id in call.item.dark_of:
        now = turn.result(item_id)
        if now is None or now.outcome is not Outcome.UNSATISFACTORY:
            continue
        found = turn.checklist.read(now.key)
        if found is not None and found[1].grade is not Grade.GOOD:
            return now
    return None


STILL_TIMED: Final = CallRule(
    number="11.1",
    of=frozenset({Scene.OBSERVED}),
    when="that nothing shows, while a lamp is timed that must be out for it",
    holds=is_timed,
    then=refuse,
    stands="what stood; the words may have been the lamp's call",
    says=("not-dark",),
    proof=(
        "test_darkness.py::test_panel_dark_does_not_count_while_a_lamp_is_timed",
        "test_darkness.py::test_what_was_refused_may_have_been_the_call_of_the_lamp",
    ),
)
CALLED_LIT: Final = CallRule(
    number="11.2",
    of=frozenset({Scene.OBSERVED}),
    when="that nothing shows, where something was called lit, and not yet affirmed",
    holds=is_called_lit,
    then=confirm,
    stands="what stood, until the yes",
    says=("confirm-change",),
    proof=(
        "test_darkness.py::test_panel_dark_after_a_lamp_that_stays_lit_needs_a_yes",
        "test_darkness.py::test_panel_dark_after_something_else_was_seen_needs_a_yes",
    ),
)
