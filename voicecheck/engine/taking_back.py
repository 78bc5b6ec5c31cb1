"""What "correction", "disregard" and "negative" take back: one row for each kind of last act."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from voicecheck.engine import findings, power, timed, whereabouts
from voicecheck.engine.actions import SetPower
from voicecheck.engine.row import Row
from voicecheck.engine.state import (
    Affirmed,
    Asked,
    CalledAgain,
    ChangedNothing,
    Differed,
    FirstCalled,
    ItemCalled,
    LastAct,
    PositionCalled,
    PowerCalled,
    Question,
    Record,
)
from voicecheck.engine.turn import Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Undoing(Row):
    """of: the kind of last act. then: what taking it back does. noted: with a line of its own."""

    of: type
    then: Callable[[Turn, Any, str], None]
    noted: bool = True


def take_back(turn: Turn, why: str) -> str | None:
    """Take the last callout back; its words, or None, and told, where there is nothing."""
    last, question = turn.state.last, turn.state.question
    turn.set(last=None)
    if last is None or (isinstance(last, Asked) and question is None):
        # "Go ahead" would let the crew believe that the call before it had been taken back.
        turn.say("nothing-to-correct")
        return None
    row = _row(last)
    row.then(turn, last, why)
    if row.noted:
        turn.note("taken-back", what=last.words, why=why)
    asked = question.claims if question is not None and isinstance(last, Asked) else ()
    return last.words or turn.list(claim.words for claim in asked)


def deny(turn: Turn, question: Question) -> bool:
    """No to the open question; whether a bus is unknown for it.

    A guess at a bus that is denied was right or wrong, nobody can tell: somebody said something.
    """
    turn.set(question=None)
    whereabouts.denied(turn, question.claims)
    forgotten = False
    for claim in question.claims:
        turn.note("denied", called=claim.words)
        if isinstance(claim.action, SetPower):
            if claim.action.bus in turn.power:
                power.forget(turn, claim.action.bus)
            forgotten = True
    return forgotten


def _question(turn: Turn, _act: Asked, _why: str) -> None:
    question = turn.state.question
    assert question is not None
    deny(turn, question)


def _first_call(turn: Turn, act: FirstCalled, why: str) -> None:
    first = turn.state.first_call
    if first is None:
        turn.note("taken-back", what=act.words, why=why)
        return
    turn.note("withdrawn", called=first.said.words, reason=why)
    turn.set(first_call=None)


def _item(turn: Turn, act: ItemCalled, why: str) -> None:
    findings.withdraw(turn, act.item, act.before, why)
    timed.closing_withdrawn(turn, act.item)
    findings.forget_dark(turn, turn.checklist.item(act.item))


def _difference(turn: Turn, act: Differed, why: str) -> None:
    record = turn.record(act.item)
    past = tuple(
        replace(result, withdrawn=why) if result.call == act.call else result
        for result in record.past
    )
    turn.restore(act.item, Record(record.now, past))


def _power(turn: Turn, act: PowerCalled, _why: str) -> None:
    power.forget(turn, act.bus)


def _again(turn: Turn, act: CalledAgain, _why: str) -> None:
    turn.say("called", words=act.words)


def _position(turn: Turn, _act: PositionCalled, _why: str) -> None:
    # Nobody can say when the selector really moved: what it started cannot be judged.
    timed.lose_timing(turn, turn.text("untimed-position-taken-back"))
    whereabouts.unselect(turn)


def _affirmed(turn: Turn, act: Affirmed, why: str) -> None:
    for done in reversed(act.acts):
        _row(done).then(turn, done, why)


def _row(act: LastAct) -> Undoing:
    return next(row for row in UNDOINGS if isinstance(act, row.of))


def _nothing(_turn: Turn, _act: ChangedNothing, _why: str) -> None:
    pass


UNDOINGS: Final = (
    Undoing(
        number="7.4",
        of=ItemCalled,
        when="the last call was recorded about an item",
        then=_item,
        stands="what stood before it, but for a good before a bad: then the item is open",
        proof=(
            "test_rules.py::TestPeople::test_correction_takes_the_last_call_back_and_keeps_it",
            "test_rules.py::TestPeople::test_a_corrected_good_call_is_no_longer_good",
            "test_rules.py::TestPeople::test_a_corrected_bad_call_does_not_bring_a_good_one_back",
        ),
    ),
    Undoing(
        number="7.5",
        of=CalledAgain,
        when="the last call repeated a finding",
        then=_again,
        stands="the finding",
        says=("called",),
        proof=(
            "test_rules.py::TestPeople::test_a_finding_called_twice_stands_when_the_repeat_is_taken_back",
        ),
    ),
    Undoing(
        number="7.6",
        of=Asked,
        when="the last call led to a question that is open",
        then=_question,
        stands="what stood; a bus that was known and is denied is unknown",
        noted=False,
        proof=(
            "test_rules.py::TestPower::test_a_guess_at_a_bus_that_is_denied_leaves_it_unknown",
            "test_rules.py::test_correction_drops_good_news_that_waits_for_a_yes",
            "test_whereabouts.py::test_taking_the_position_back_is_a_no",
        ),
    ),
    Undoing(
        number="7.7",
        of=PowerCalled,
        when="the last call set a bus",
        then=_power,
        stands="the bus is unknown",
        proof=("test_two_crew.py::test_correction_of_a_bus_leaves_half_a_read_back_as_it_is",),
    ),
    Undoing(
        number="7.8",
        of=PositionCalled,
        when="the last call moved the selector",
        then=_position,
        stands="the position is unknown, and no lamp is timed",
        proof=("test_two_timed.py::test_taking_the_leaving_call_back_leaves_nothing_to_judge",),
    ),
    Undoing(
        number="8.5",
        of=FirstCalled,
        when="the last call waits for the other crew member's",
        then=_first_call,
        stands="what stood; nothing waits",
        noted=False,
        proof=("test_two_crew.py::test_correction_takes_a_call_back_that_waits_for_its_read_back",),
    ),
    Undoing(
        number="8.6",
        of=Differed,
        when="the last call differed from the other crew member's",
        then=_difference,
        stands="the item is open",
        proof=("test_two_crew.py::test_correction_takes_back_what_made_the_difference",),
    ),
    Undoing(
        number="7.11",
        of=Affirmed,
        when="the last call was a yes to several things at once",
        then=_affirmed,
        stands="what stood before each of them",
        proof=("test_doubts.py::test_negative_takes_all_back_that_a_yes_had_settled",),
    ),
    Undoing(
        number="7.9",
        of=ChangedNothing,
        when="the last call had changed nothing",
        then=_nothing,
        stands="what stood",
        proof=(
            "test_whereabouts.py::test_correction_takes_back_the_refused_call_and_the_question_stays",
        ),
    ),
)
