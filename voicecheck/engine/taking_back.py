"""What "correction", "disregard" and "negative" take back: one row for each kind of last act."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from voicecheck.engine import findings, power, timed, whereabouts
from voicecheck.engine.actions import SetPower
from voicecheck.engine.row import Row
from voicecheck.engine.state import (
    Asked,
    CalledAgain,
    ChangedNothing,
    Differed,
    FirstCalled,
    ItemCalled,
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


def take_back(turn: Turn, why: str) -> bool:
    """Take the last callout back; False, and told, where there is nothing to take back."""
    last, question = turn.state.last, turn.state.question
    turn.set(last=None)
    if last is None or (isinstance(last, Asked) and question is None):
        # "Go ahead" would let the crew believe that the call before it had been taken back.
        turn.say("nothing-to-correct")
        return False
    row = next(row for row in UNDOINGS if isinstance(last, row.of))
    row.then(turn, last, why)
    if row.noted:
        turn.note("taken-back", what=last.words, why=why)
    return True


def deny(turn: Turn, question: Question) -> bool:
    """No to the open question; whether a bus that was known is not known any more.

    A guess at a bus that is denied was right or wrong, nobody can tell: somebody said something.
    """
    turn.set(question=None)
    whereabouts.denied(turn, question.claims)
    forgotten = False
    for claim in question.claims:
        turn.note("denied", called=claim.words)
        if isinstance(claim.action, SetPower) and claim.action.bus in turn.power:
            power.forget(turn, claim.action.bus)
            forgotten = True
    return forgotten


def _question(turn: Turn, _act: Asked, _why: str) -> None:
    question = turn.state.question
    assert question is not None
    deny(turn, question)


def _first_call(turn: Turn, _act: FirstCalled, why: str) -> None:
    first = turn.state.first_call
    if first is None:
        turn.note("taken-back", what=_act.words, why=why)
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
    turn.move("unselect")
    turn.set(position=None, dark_asked=None, maybe_at=())


def _nothing(_turn: Turn, _act: ChangedNothing, _why: str) -> None:
    pass


UNDOINGS: Final = (
    Undoing(
        number="7.4",
        of=ItemCalled,
        when="the last call was recorded about an item",
        then=_item,
        stands="what stood before it, but for a good before a bad: then the item is open",
        proof=(),
    ),
    Undoing(
        number="7.5",
        of=CalledAgain,
        when="the last call repeated a finding",
        then=_again,
        stands="the finding",
        says=("called",),
        proof=(),
    ),
    Undoing(
        number="7.6",
        of=Asked,
        when="the last call led to a question that is open",
        then=_question,
        stands="what stood; a bus that was known and is denied is unknown",
        noted=False,
        proof=(),
    ),
    Undoing(
        number="7.7",
        of=PowerCalled,
        when="the last call set a bus",
        then=_power,
        stands="the bus is unknown",
        proof=(),
    ),
    Undoing(
        number="7.8",
        of=PositionCalled,
        when="the last call moved the selector",
        then=_position,
        stands="the position is unknown, and no lamp is timed",
        proof=(),
    ),
    Undoing(
        number="8.5",
        of=FirstCalled,
        when="the last call waits for the other crew member's",
        then=_first_call,
        stands="what stood; nothing waits",
        noted=False,
        proof=(),
    ),
    Undoing(
        number="8.6",
        of=Differed,
        when="the last call differed from the other crew member's",
        then=_difference,
        stands="the item is open",
        proof=(),
    ),
    Undoing(
        number="7.9",
        of=ChangedNothing,
        when="the last call had changed nothing",
        then=_nothing,
        stands="what stood",
        proof=(),
    ),
)
