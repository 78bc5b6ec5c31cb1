"""One step: a checklist, a state and an event; the state that follows, and what is to be done.

No I/O, no clock, no threads: the same three always give the same. The rules are in rules.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, NotFitted, Position
from voicecheck.engine import (
    airframe,
    disregarding,
    passing,
    positions,
    power,
    putting_back,
    questions,
    rules,
    timed,
    unclear,
    whereabouts,
)
from voicecheck.engine.actions import (
    Action,
    CloseWindow,
    Command,
    CommandName,
    DisregardPosition,
    GiveReason,
    ItemAction,
    NameDark,
    Observe,
    Select,
    SelectNotFitted,
    SetPower,
    Stay,
)
from voicecheck.engine.commands import COMMANDS, give_reason
from voicecheck.engine.effects import Effect, Finish, Listen, Note, Say, Show, Wake
from voicecheck.engine.events import (
    Began,
    Ended,
    Event,
    Heard,
    KeyPressed,
    Lost,
    Overheard,
    Passed,
    Prompted,
    Restored,
    Unclear,
    time_of,
)
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.losses import lost, restored
from voicecheck.engine.offers import offered, offers
from voicecheck.engine.phases import Phase
from voicecheck.engine.standing import Standing
from voicecheck.engine.state import Affirmed, ChangedNothing, Claim, LastAct, SessionState
from voicecheck.engine.summary import closing_words, summarise
from voicecheck.engine.turn import Turn
from voicecheck.engine.view import view_of

_GOES_ON: Final = (CommandName.COMPLETE, CommandName.ABANDON, CommandName.CREW_CHANGE)
"""Commands that leave an open question unanswered."""


def step(
    checklist: Checklist, state: SessionState, event: Event
) -> tuple[SessionState, list[Effect]]:
    """Take one event: the state after it, and what follows from it, in order."""
    if state.phase is Phase.FINISHED:
        return state, []
    turn = Turn(checklist, state, max(state.now, time_of(event)))
    _HANDLERS[type(event)](turn, event)
    if turn.phase is Phase.FINISHED:
        questions.lapse(turn)
        timed.lose_timing(turn, turn.text("untimed-ended"))
    said = tuple(effect for effect in turn.effects if isinstance(effect, Say))
    if said and not _repeats(checklist, state, event):
        turn.set(last_said=said)
    return turn.state, [*turn.effects, *_closing(checklist, state, turn.state)]


def _repeats(checklist: Checklist, state: SessionState, event: Event) -> bool:
    """Whether it only makes us say again what was said last."""
    if not isinstance(event, Heard | KeyPressed):
        return False
    offer = offers(checklist, state).get(event.callout)
    return offer is not None and offer.action == Command(CommandName.SAY_AGAIN)


def _closing(checklist: Checklist, before: SessionState, after: SessionState) -> list[Effect]:
    """What every event ends with: the view, the new offers, the next deadline, the end."""
    view = Show(view_of(Standing(checklist, after)))
    if after.phase is Phase.FINISHED:
        summary = summarise(checklist, after)
        note = Note("finished", after.now, {"reason": after.ended})
        return [note, closing_words(summary), view, Listen(()), Wake(None), Finish(summary)]
    effects: list[Effect] = [view]
    callouts = offered(checklist, after).callouts
    if callouts != offered(checklist, before).callouts:
        effects.append(Listen(callouts))
    due = passing.wake(checklist, after)
    if due != passing.wake(checklist, before):
        effects.append(Wake(due))
    return effects


# One function for each kind of event.


def _began(turn: Turn, event: Began) -> None:
    turn.set(second=event.second, channels=event.channels)
    turn.move("begin")
    checklist = turn.checklist
    turn.insist("preamble")
    gone = dict.fromkeys(n.say or _part(turn, n) for n in checklist.not_fitted)
    turn.insist("begin", title=checklist.title, registration=checklist.registration)
    if gone:
        turn.insist("not-fitted", positions=turn.list(gone))
    turn.insist("call-power", buses=turn.buses)


def _part(turn: Turn, gone: NotFitted) -> str:
    """An item that is not fitted, of a position that is."""
    return turn.checklist.named(turn.checklist.position(gone.position), gone.expected)


def _heard(turn: Turn, event: Heard) -> None:
    _called(turn, event.callout, event.start, event.end, event.channel)


def _key_pressed(turn: Turn, event: KeyPressed) -> None:
    _called(turn, event.callout, event.at, event.at, 0, touched=True)


def _overheard(turn: Turn, event: Overheard) -> None:
    timed.missed(turn, event.start, event.end)


def _passed(turn: Turn, _event: Passed) -> None:
    passing.passed(turn)


def _prompted(turn: Turn, event: Prompted) -> None:
    turn.set(quiet_from=max(turn.state.quiet_from, event.end))
    questions.delayed(turn, event.start, event.end)


def _ended(turn: Turn, event: Ended) -> None:
    turn.set(ended=event.reason)
    turn.move("finish")


_HANDLERS: Final[dict[type, Callable[[Turn, Any], None]]] = {
    Began: _began,
    Heard: _heard,
    KeyPressed: _key_pressed,
    Unclear: unclear.speech,
    Overheard: _overheard,
    Passed: _passed,
    Prompted: _prompted,
    Lost: lost,
    Restored: restored,
    Ended: _ended,
}


# A callout.


def _called(
    turn: Turn, key: str, start: float, end: float, channel: int, *, touched: bool = False
) -> None:
    offer = offers(turn.checklist, turn.state).get(key)
    if offer is None:
        turn.note("not-on-offer", callout=key)
        return
    # What is read back is what will be recorded, in the callout's own words.
    said = turn.claim(key, offer.action, offer.callout.phrases[0], start, end, channel)
    if touched:
        said = replace(said, touched=True)
    turn.set(
        unclear=0,
        reminders=0,
        quiet_from=max(turn.state.quiet_from, end),
        heard_count=turn.state.heard_count + 1,
    )
    if offer.action == Command(CommandName.AFFIRM):
        _affirm(turn, said)
    else:
        _act(turn, offer.action, said)


def _affirm(turn: Turn, yes: Claim) -> None:
    """A yes: what it was asked about counts now, from when its words were spoken."""
    claims = turn.state.claims
    if not questions.answers(turn, yes):
        turn.note("yes-not-counted", called=yes.words, start=yes.start)
        questions.repeat(turn)
        return
    COMMANDS[CommandName.AFFIRM](turn)
    if not claims:
        return
    whereabouts.affirmed(turn, claims)
    acts: list[LastAct] = []
    airframe.affirmed(turn, claims)
    for claim in claims:
        offer = offers(turn.checklist, turn.state).get(claim.callout)
        if offer is not None:
            # Whoever says yes vouches for it: nobody can read back in the other one's name.
            mine = replace(claim, channel=yes.channel, touched=yes.touched)
            action = claim.action if isinstance(claim.action, Stay) else offer.action
            _act(turn, action, mine, affirmed=True)
            acts += [turn.state.last] if turn.state.last is not None else []
    if len(acts) > 1:
        turn.set(last=Affirmed(tuple(acts), turn.list(act.words for act in acts)))
    buses = [claim.words for claim in claims if isinstance(claim.action, SetPower)]
    if buses:
        turn.say("power-set", claims=turn.list(buses))
        positions.remind_of_power(turn)


def _act(turn: Turn, action: Action, said: Claim, *, affirmed: bool = False) -> None:
    if not isinstance(action, Command):
        questions.lapse(turn)
        turn.set(last=ChangedNothing(said.words))
    elif action.name in _GOES_ON:
        questions.lapse(turn)
    match action:
        case Observe() | NameDark() | CloseWindow():
            _of_item(turn, action, said, affirmed=affirmed)
        case Select(position):
            _select(turn, position, said)
        case Stay(position):
            positions.stay(turn, position, said)
        case DisregardPosition(position):
            disregarding.position(turn, position)
        case SelectNotFitted(name, reason):
            questions.drop_but_context(turn)
            turn.say("position-not-fitted", position=name, reason=reason)
        case SetPower():
            (power.affirm if affirmed else power.claim)(turn, action, said)
        case Command(name):
            COMMANDS[name](turn)
        case GiveReason(reason):
            give_reason(turn, reason)


def _of_item(turn: Turn, action: ItemAction, said: Claim, *, affirmed: bool) -> None:
    scene = _SCENES[type(action)]
    if scene is Scene.TIMED_HERE and timed.window_of(turn, action.item) is not None:
        scene = Scene.RUNNING
    call = ItemCall(scene, action.item, action.reading, said, affirmed)
    position = turn.position
    here = position is not None and turn.outstanding(position)
    questions.drop_but_context(turn)
    if scene in (Scene.OBSERVED, Scene.NAMED):
        putting_back.thrown(turn, call)
    rules.decide(turn, call)
    if scene in (Scene.OBSERVED, Scene.NAMED):
        if _shows_place(turn, call):
            turn.set(missed_from=None)
        if here:
            positions.propose_next(turn)


def _shows_place(turn: Turn, call: ItemCall) -> bool:
    """Whether it shows that the selector is still here."""
    if turn.state.maybe_at or turn.state.place_lost:
        return False
    return call.affirmed or not turn.checklist.is_shared(call.said.callout)


_SCENES: Final = {
    Observe: Scene.OBSERVED,
    NameDark: Scene.NAMED,
    CloseWindow: Scene.TIMED_HERE,
}


def _select(turn: Turn, position: Position, said: Claim) -> None:
    whereabouts.called(turn, said)  # no question about a place outlives it
    questions.drop_but_context(turn)
    positions.select(turn, position, said)
