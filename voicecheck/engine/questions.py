"""The open question: reading it back, and what becomes of it when it gets no answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from voicecheck.engine.actions import SetPower
from voicecheck.engine.effects import Say
from voicecheck.engine.reopening import HALF_HEARD, NOT_ANSWERED, reopen_doubted
from voicecheck.engine.state import Ask, Asked, Claim, Question, SessionState
from voicecheck.engine.turn import Turn

SOUNDS: Final = 0.5
"""Seconds that a question takes at the least until it can be answered, for each call in it.

No listener decides and no voice begins in less (`voicecheck measure latency`): whoever says yes
sooner says it to something else.
"""
PATIENCE: Final = 20.0
"""Seconds after the question in which a yes is an answer to it."""


def pose(turn: Turn, claims: tuple[Claim, ...], words: str = "") -> None:
    """Ask whether these were called. words: what "correction" would speak of."""
    open_question(turn, Ask.CLAIMS, claims)
    turn.set(last=Asked(words))


def open_question(
    turn: Turn, ask: Ask, claims: tuple[Claim, ...] = (), listed: tuple[str, ...] = ()
) -> None:
    """Make this the question that a yes answers from now on. listed: read out before it."""
    turn.set(question=Question(ask, claims, turn.now, listed))


def repeat(turn: Turn) -> None:
    """Read the open claims back and ask for a yes, or ask again what else was asked."""
    question = turn.state.question
    if question is None or question.ask is Ask.ABANDON:
        return
    turn.set(question=replace(question, asked_at=turn.now))
    claims = turn.list(map(turn.read_back, question.claims))
    if question.ask is Ask.COMPLETE:
        turn.insist("confirm-incomplete" if turn.missing() else "confirm-findings")
    elif of_airframe(turn.state):
        turn.insist("confirm-airframe", registration=turn.checklist.registration, claims=claims)
    else:
        turn.insist("confirm", claims=claims)


def again(turn: Turn, said: Sequence[Say]) -> None:
    """The crew has had us say these again: the question counts from now, and is among them."""
    if not any(say.prompt.startswith("confirm") for say in said):
        repeat(turn)
    elif turn.state.question is not None:
        turn.set(question=replace(turn.state.question, asked_at=turn.now))


def of_airframe(state: SessionState) -> bool:
    """Whether the open question is about the registration, too: the first about power is."""
    return bool(state.power_claims) and not state.airframe


def answers(turn: Turn, yes: Claim) -> bool:
    """Whether a yes can be to the open question: begun once it had sounded, and soon enough."""
    question = turn.state.question
    if question is None:
        return True
    # A screen tells which question a key was pressed to (session/touches.py).
    heard = 0.0 if yes.touched else SOUNDS * max(1, len(question.claims))
    waited = yes.start - question.asked_at
    return heard <= waited <= PATIENCE + heard


def delayed(turn: Turn, start: float, end: float) -> None:
    """Another prompt was sounding when the question was put: it came only after that."""
    question = turn.state.question
    if question is not None and start < question.asked_at < end:
        turn.set(question=replace(question, asked_at=end))


def lapse(turn: Turn) -> None:
    """The open question goes unanswered: what it doubts is good no longer."""
    for claim in turn.state.claims:
        reopen_doubted(turn, claim.callout, NOT_ANSWERED)


def unasked(turn: Turn, guess: Sequence[str]) -> None:
    """Half understood, and nobody can be asked now: what it doubts is good no longer.

    What the open question is about is left to its answer.
    """
    asked = {claim.callout for claim in turn.state.claims}
    for key in guess:
        if key not in asked:
            reopen_doubted(turn, key, HALF_HEARD)


def drop_but_context(turn: Turn) -> None:
    """Another callout came instead of a yes: claims about items lapse.

    Those about power stay open, and so do those about where the selector is.
    """
    question = turn.state.question
    if question is None:
        return
    kept = tuple(
        claim
        for claim in turn.state.claims
        if isinstance(claim.action, SetPower) or turn.state.is_place(claim)
    )
    turn.set(question=replace(question, claims=kept) if kept else None)
