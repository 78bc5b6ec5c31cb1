"""The spoken commands: each is one short function of the turn."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from voicecheck.engine import observe, power, selecting, timed, whereabouts
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, LastAct, Question
from voicecheck.engine.turn import Turn


def say_again(turn: Turn) -> None:
    """Repeat what was said last."""
    if turn.state.last_said:
        turn.effects.extend(turn.state.last_said)
    else:
        turn.say("nothing-said")


def stand_by(turn: Turn) -> None:
    """Hold at this item."""
    hold(turn, "stand by")


def hold(turn: Turn, why: str) -> None:
    """Hold, whatever the cause; running windows go on, for the lamps do."""
    turn.phases.move("hold")
    turn.set(held_reason=why)
    turn.note("hold", why=why, position=turn.state.position)
    turn.ask("holding", place=place(turn))


def resume(turn: Turn) -> None:
    """Go on where the hold began, and read back where that is."""
    back = {None: "resume_between", "off": "resume_at_rest"}
    turn.phases.move(back.get(turn.state.position, "resume_testing"))
    turn.set(held_reason=None)
    turn.note("resume", position=turn.state.position)
    turn.ask("resuming", place=place(turn))
    say_standing(turn)
    power.ask(turn)


def place(turn: Turn) -> str:
    """Where we are, in words: "at" an item that is open, or a position."""
    position = turn.position
    if position is None:
        return "start"
    left = observe.outstanding(turn, position)
    return f"{position.say}, {left[0].expected}" if left else position.say


def read_back(turn: Turn) -> None:
    """Read back where we are, what was called here and what is left."""
    turn.say("at", place=turn.position.say if turn.position else "start")
    say_standing(turn)


def say_standing(turn: Turn) -> None:
    """What stands in the current position, and what is still to be called."""
    position = turn.position
    if position is None:
        say_missing(turn)
        return
    called = [r.called for item in position.items if (r := turn.this_visit(item.id)) and r.counted]
    if called:
        turn.say("called", words=", ".join(called))
    left = observe.outstanding(turn, position)
    if left:
        turn.say("outstanding", items=", ".join(item.expected for item in left))


def say_missing(turn: Turn) -> bool:
    """Read out the positions with open items; False when there are none."""
    missing = [p.say for p in turn.checklist.positions if observe.open_items(turn, p)]
    if missing:
        turn.ask("missing", positions=", ".join(missing))
    return bool(missing)


def correction(turn: Turn) -> None:
    """Take the last callout back; the right one follows."""
    if _take_back(turn, "corrected by the crew"):
        turn.ask("corrected")


def disregard(turn: Turn) -> None:
    """Drop the open question or, without one, take the last callout back."""
    if turn.state.question is not None:
        negative(turn)
    elif _take_back(turn, "disregarded by the crew"):
        turn.say("disregarded")


def _take_back(turn: Turn, why: str) -> bool:
    last = turn.state.last
    question = turn.state.question
    answered = last is not None and last.kind == "question" and question is None
    turn.set(last=None)
    if last is None or answered:
        # "Go ahead" would let the crew believe that the call before it had been taken back.
        turn.say("nothing-to-correct")
        return False
    if last.kind == "question" and question is not None:
        _drop_question(turn, question)
        return True
    if last.kind == "read-back" and turn.state.read_back is not None:
        turn.note("withdrawn", called=turn.state.read_back.said.words, reason=why)
        turn.set(read_back=None)
        return True
    if last.kind == "item" and last.previous is not None:
        observe.withdraw(turn, last.key, last.previous, why)
        timed.closing_withdrawn(turn, last.key)
        if turn.state.dark_asked == last.key:
            turn.set(dark_asked=None)
    elif last.kind == "power":
        power.forget(turn, last.key)
    elif last.kind == "repeat":
        turn.say("called", words=last.words)
    elif last.kind == "position":
        # Nobody can say when the selector really moved: what it started cannot be judged.
        timed.lose_timing(turn, "the call of the next position was taken back")
        turn.phases.move("unselect")
        turn.set(position=None, dark_asked=None, maybe_at=())
    turn.note("taken-back", what=last.words, why=why)
    return True


def affirm(turn: Turn) -> None:
    """Yes to the open question."""
    question = turn.state.question
    if question is None:
        return
    turn.set(question=None)
    if question.ask is Ask.COMPLETE:
        turn.set(ended="ended by the crew with items not tested")
        turn.phases.move("finish")


def negative(turn: Turn) -> None:
    """No to the open question: nothing is recorded, and a denied bus is unknown."""
    question = turn.state.question
    if question is None:
        return
    forgotten = _drop_question(turn, question)
    turn.say("dropped" if question.ask is not Ask.CLAIMS else "call-again")
    if forgotten:
        selecting.remind_of_power(turn)


def _drop_question(turn: Turn, question: Question) -> bool:
    """Whether a bus that was known is not known any more.

    A guess at a bus that is denied was right or wrong, nobody can tell: somebody said something.
    """
    turn.set(question=None)
    whereabouts.denied(turn, question.claims)
    forgotten = False
    for claim in question.claims:
        turn.note("denied", called=claim.words)
        kind, _, rest = claim.callout.partition(":")
        bus = rest.partition(":")[0]
        if kind == "power" and bus in power.standing(turn):
            power.forget(turn, bus)
            forgotten = True
    return forgotten


def complete(turn: Turn) -> None:
    """The completion call: only with the selector at off, and never silently short."""
    if turn.phase is not Phase.AT_REST:
        turn.warn("selector-first")
        return
    if turn.state.maybe_at:
        whereabouts.ask_first(turn)  # it may not be at off any more
        return
    if turn.state.windows:
        turn.warn("window-open")
        return
    if say_missing(turn):
        turn.set(question=Question(Ask.COMPLETE))
        turn.ask("confirm-incomplete")
        turn.set(last=LastAct("question", "", ""))
        return
    turn.set(complete=True)
    turn.phases.move("finish")


def abandon(turn: Turn) -> None:
    """Stop, once a reason is given."""
    turn.set(question=Question(Ask.ABANDON), last=LastAct("question", "", ""))
    turn.ask("ask-reason", reasons=", ".join(p[0] for p in turn.checklist.reasons.values()))


def give_reason(turn: Turn, reason: str) -> None:
    """The reason ends the test."""
    turn.set(question=None, ended=f"abandoned by the crew: {reason}")
    turn.phases.move("finish")


def crew_change(turn: Turn) -> None:
    """Somebody else goes on: what was half said lapses, and the new one hears where we are."""
    turn.set(question=None, read_back=None, last=None)
    turn.note("crew-change", position=turn.state.position)
    turn.ask("crew-changed")
    read_back(turn)


COMMANDS: Final[dict[str, Callable[[Turn], None]]] = {
    "say-again": say_again,
    "stand-by": stand_by,
    "resume": resume,
    "read-back": read_back,
    "correction": correction,
    "disregard": disregard,
    "affirm": affirm,
    "negative": negative,
    "complete": complete,
    "abandon": abandon,
    "crew-change": crew_change,
}
