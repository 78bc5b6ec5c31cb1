"""The open question: reading it back, and what becomes of it when it gets no answer."""

from __future__ import annotations

from collections.abc import Sequence

from voicecheck.engine.actions import SetPower
from voicecheck.engine.reopening import HALF_HEARD, NOT_ANSWERED, reopen_doubted
from voicecheck.engine.state import Ask, Asked, Claim, Question, SessionState
from voicecheck.engine.turn import Turn


def pose(turn: Turn, claims: tuple[Claim, ...], words: str = "") -> None:
    """Ask whether these were called. words: what "correction" would speak of."""
    turn.set(question=Question(Ask.CLAIMS, claims), last=Asked(words))


def repeat(turn: Turn) -> None:
    """Read the open claims back and ask for a yes."""
    claims = turn.list(claim.words for claim in turn.state.claims)
    if of_airframe(turn.state):
        turn.insist("confirm-airframe", registration=turn.checklist.registration, claims=claims)
    elif turn.state.claims:
        turn.insist("confirm", claims=claims)


def of_airframe(state: SessionState) -> bool:
    """Whether the open question is about the registration, too: the first about power is."""
    return bool(state.power_claims) and not state.airframe


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
    turn.set(question=Question(Ask.CLAIMS, kept) if kept else None)
