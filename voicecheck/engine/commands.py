"""The spoken commands: each is one short function of the turn."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from voicecheck.engine import (
    airframe,
    context,
    disregarding,
    ending,
    positions,
    putting_back,
    questions,
    taking_back,
)
from voicecheck.engine.actions import CommandName
from voicecheck.engine.events import Part
from voicecheck.engine.offers import offers
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, Asked
from voicecheck.engine.turn import Turn

_AFFIRM: Final = f"command:{CommandName.AFFIRM}"
_BACK: Final = {None: "resume_between", "off": "resume_at_rest"}


def say_again(turn: Turn) -> None:
    """Repeat what was said last, and with it the question that can be answered."""
    said = turn.state.last_said
    turn.effects.extend(said)
    if _AFFIRM in offers(turn.checklist, turn.state):
        questions.again(turn, said)
    elif not said:
        turn.say("nothing-said")


def stand_by(turn: Turn) -> None:
    """Hold at this item."""
    hold(turn, None)


def hold(turn: Turn, part: Part | None) -> None:
    """Hold: the crew says so, or a part was lost. Running windows go on, for the lamps do."""
    turn.move("hold")
    turn.set(held_by=part, held_from=turn.now)
    turn.note("hold", why=turn.why_held, position=turn.state.position)
    turn.insist("holding", place=turn.place)


def resume(turn: Turn) -> None:
    """Go on where the hold began, and read back where that is; after a gap, ask."""
    turn.move(_BACK.get(turn.state.position, "resume_testing"))
    turn.note("resume", position=turn.state.position)
    gap = context.is_gap(turn)
    if gap:
        context.doubt(turn)
    turn.set(held_by=None, held_from=None, cut=False)
    if gap:
        turn.insist("after-gap")
    else:
        turn.insist("resuming", place=turn.place)
        say_standing(turn)
    questions.repeat(turn)


def read_out(turn: Turn) -> None:
    """Read out where we are, what was called here and what is left."""
    turn.say("at", place=turn.position.say if turn.position else turn.text("place-start"))
    if turn.phase is Phase.AT_REST:
        say_missing(turn)
    say_standing(turn)


def say_standing(turn: Turn) -> None:
    """What stands in the current position, and what is to be called or selected next."""
    position = turn.position
    if position is None:
        say_missing(turn)
        return
    called = [r.called for item in position.called if (r := turn.this_visit(item.id)) and r.counted]
    if called:
        turn.say("called", words=turn.list(called))
    if not positions.say_outstanding(turn, position):
        positions.propose_next(turn)


def say_missing(turn: Turn) -> None:
    """Read out the positions with open items."""
    missing = [position.say for position in turn.missing()]
    if missing:
        turn.insist("missing", positions=turn.list(missing))


def correction(turn: Turn) -> None:
    """Take the last callout back, and say which; the right one follows."""
    words = taking_back.take_back(turn, turn.text("corrected"))
    if words:
        turn.insist("corrected", words=words)
    elif words is not None:
        turn.insist("dropped")  # what was asked about was no call: the end, or giving up


def disregard(turn: Turn) -> None:
    """Drop the open question or, without one, take the last callout back."""
    if turn.state.question is not None:
        negative(turn)
    elif words := taking_back.take_back(turn, turn.text("disregarded")):
        turn.say("disregarded", words=words)


def affirm(turn: Turn) -> None:
    """Yes to the open question, but for what it makes count (stepping.py)."""
    question = turn.state.question
    turn.set(question=None)
    if question is not None and question.ask is Ask.COMPLETE:
        ending.end(turn, question.listed)


def negative(turn: Turn) -> None:
    """No to the open question: nothing is recorded, and a denied bus is unknown.

    Without one it takes the last call back, as the trade says after a wrong read-back.
    """
    question = turn.state.question
    if question is None:
        correction(turn)
        return
    of_airframe = questions.of_airframe(turn.state)
    forgotten = taking_back.deny(turn, question)
    if of_airframe:
        airframe.denied(turn)
    else:
        turn.say("dropped" if question.ask is not Ask.CLAIMS else "call-again")
    if forgotten:
        positions.remind_of_power(turn)


def complete(turn: Turn) -> None:
    """The completion call: only with the selector at off, and never silently short."""
    if turn.phase is not Phase.AT_REST:
        turn.warn("selector-first")
        return
    ending.end(turn, ())


def abandon(turn: Turn) -> None:
    """Stop, once a reason is given."""
    putting_back.remind(turn)
    questions.open_question(turn, Ask.ABANDON)
    turn.set(last=Asked(""))
    turn.insist("ask-reason", reasons=turn.list(p[0] for p in turn.checklist.reasons.values()))


def give_reason(turn: Turn, reason: str) -> None:
    """The reason ends the test."""
    turn.set(question=None, ended=turn.text("ended-abandoned", reason=reason))
    turn.move("finish")


def crew_change(turn: Turn) -> None:
    """Somebody else goes on: what was half said lapses, and the new one hears where we are."""
    turn.set(question=None, first_call=None, last=None)
    turn.note("crew-change", position=turn.state.position)
    turn.insist("crew-changed")
    read_out(turn)


COMMANDS: Final[dict[CommandName, Callable[[Turn], None]]] = {
    CommandName.SAY_AGAIN: say_again,
    CommandName.STAND_BY: stand_by,
    CommandName.RESUME: resume,
    CommandName.READ_BACK: read_out,
    CommandName.CORRECTION: correction,
    CommandName.DISREGARD: disregard,
    CommandName.AFFIRM: affirm,
    CommandName.NEGATIVE: negative,
    CommandName.COMPLETE: complete,
    CommandName.ABANDON: abandon,
    CommandName.CREW_CHANGE: crew_change,
    CommandName.POWER_WRONG: disregarding.power_wrong,
}
