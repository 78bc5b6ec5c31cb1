"""Somebody spoke and was not understood: ask about what it may have been, or to say it again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from voicecheck.engine import doubt, power, timed, whereabouts
from voicecheck.engine.commands import place
from voicecheck.engine.events import Unclear
from voicecheck.engine.offers import Command, NameDark, Observe, Offer
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, Claim, LastAct, Question
from voicecheck.engine.turn import Turn

MAX_UNCLEAR: Final = 3
"""Times in a row that the crew is asked to say again before we wait in silence."""


def speech(turn: Turn, event: Unclear, known: Mapping[str, Offer]) -> None:
    """One stretch of speech. known: what could have been said."""
    count = turn.state.unclear + 1
    turn.set(unclear=count, unclear_count=turn.state.unclear_count + 1)
    turn.set(quiet_from=max(turn.state.quiet_from, event.end))
    timed.missed(turn, event.start, event.end)
    turn.note("unclear", start=event.start, end=event.end, guess=list(event.guess))
    whereabouts.half_called(turn, event)
    tired = turn.phase is Phase.HELD or count > MAX_UNCLEAR
    claims = () if tired or turn.state.question is not None else _claims(event, known)
    if claims and not _of_unknown_place(turn, claims, known):
        turn.set(question=Question(Ask.CLAIMS, claims), last=LastAct("question", "", ""))
        power.ask(turn)
        return
    doubt.unasked(turn, event.guess)
    if turn.phase is Phase.HELD:
        if count == MAX_UNCLEAR:
            turn.ask("holding", place=place(turn))  # they may believe that we go on
    elif tired:
        return
    elif turn.state.question is not None and turn.state.question.ask is Ask.CLAIMS:
        power.ask(turn)
    elif claims:
        whereabouts.ask_first(turn)
    else:
        turn.ask("say-again")


def _claims(event: Unclear, known: Mapping[str, Offer]) -> tuple[Claim, ...]:
    """What a guess would claim, or nothing if it cannot be asked about as a whole."""
    claims = tuple(
        Claim(key, known[key].callout.phrases[0], event.start, event.end, event.channel)
        for key in event.guess
        if key in known and not isinstance(known[key].action, Command)
    )
    # A guess with a part unknown, or on and off of one bus in one breath, is no guess.
    about = {claim.callout.rpartition(":")[0] for claim in claims}
    return claims if len(about) == len(claims) == len(event.guess) else ()


def _of_unknown_place(turn: Turn, claims: Sequence[Claim], known: Mapping[str, Offer]) -> bool:
    """Whether a yes could not count, because the selector may be elsewhere."""
    if not turn.state.maybe_at or any(whereabouts.is_place(turn, claim) for claim in claims):
        return False
    return any(isinstance(known[c.callout].action, Observe | NameDark) for c in claims)
