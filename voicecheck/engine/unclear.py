"""Somebody spoke and was not understood: ask about what it may have been, or to say it again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, cast

from voicecheck.checklist.resolved import Grade
from voicecheck.engine import context, power, questions, second_call, timed, whereabouts
from voicecheck.engine.actions import Command, NameDark, Observe, SetPower, subject
from voicecheck.engine.events import Unclear
from voicecheck.engine.offers import Offer, bus_offers, offers
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Claim
from voicecheck.engine.turn import Turn

MAX_UNCLEAR: Final = 3
"""Times in a row that the crew is asked to say again before we wait in silence."""


def speech(turn: Turn, event: Unclear) -> None:
    """One stretch of speech."""
    known = offers(turn.checklist, turn.state)
    count = turn.state.unclear + 1
    turn.set(unclear=count, unclear_count=turn.state.unclear_count + 1)
    turn.set(quiet_from=max(turn.state.quiet_from, event.end))
    timed.missed(turn, event.start, event.end)
    turn.note("unclear", start=event.start, end=event.end, guess=list(event.guess))
    whereabouts.half_called(turn, event)
    _doubt(turn, event)
    tired = turn.phase is Phase.HELD or count > MAX_UNCLEAR
    claims = () if tired or turn.state.question is not None else _claims(turn, event, known)
    if claims and not _of_unknown_place(turn, claims):
        questions.pose(turn, claims)
        questions.repeat(turn)
        return
    questions.unasked(turn, event.guess)
    if turn.phase is Phase.HELD:
        if count == MAX_UNCLEAR:
            turn.insist("holding", place=turn.place)  # they may believe that we go on
    elif tired:
        return
    elif turn.state.claims:
        questions.repeat(turn)
    elif claims:
        context.ask_first(turn)
    else:
        turn.insist("say-again")


def _doubt(turn: Turn, event: Unclear) -> None:
    """Whoever may have called a bus leaves it unknown; and bad news ends half a read-back."""
    buses = bus_offers(turn.checklist)
    for key in event.guess:
        if key in buses:
            power.doubt(turn, cast(SetPower, buses[key].action), event.start)
        found = turn.checklist.read(key)
        if found is not None and found[1].grade is not Grade.GOOD:
            second_call.drop(turn, found[0])


def _claims(turn: Turn, event: Unclear, known: Mapping[str, Offer]) -> tuple[Claim, ...]:
    """What a guess would claim, or nothing if it cannot be asked about as a whole."""
    guess = [
        (key, known[key])
        for key in event.guess
        if key in known and not isinstance(known[key].action, Command)
    ]
    # A guess with a part unknown, or on and off of one bus in one breath, is no guess.
    if not len({subject(offer.action) for _, offer in guess}) == len(guess) == len(event.guess):
        return ()
    return tuple(
        turn.claim(
            key, offer.action, offer.callout.phrases[0], event.start, event.end, event.channel
        )
        for key, offer in guess
    )


def _of_unknown_place(turn: Turn, claims: Sequence[Claim]) -> bool:
    """Whether a yes could not count, because the selector may be elsewhere."""
    known = not turn.state.maybe_at and not turn.state.place_lost
    if known or any(turn.state.is_place(claim) for claim in claims):
        return False
    return any(isinstance(claim.action, Observe | NameDark) for claim in claims)
