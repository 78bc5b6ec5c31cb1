"""A question about bad news that nobody answered: what it asked about is no longer good.

Half understood, and read back: "no fire lights, affirm?" A yes records it and a no drops it.
When the crew goes on, hands over or ends without either, an earlier good call of the same item
must not stand as if nothing had been said. Nor may it where there was no asking: another question
was open, we were holding, or too much had not been understood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicecheck.checklist.resolved import Grade, Item, Reading
from voicecheck.engine.state import Ask, Outcome, Record
from voicecheck.engine.turn import Turn


def lapse(turn: Turn) -> None:
    """The open question goes unanswered: reopen every good item that it doubts."""
    question = turn.state.question
    if question is None or question.ask is not Ask.CLAIMS:
        return
    for claim in question.claims:
        _reopen(turn, claim.callout, "was asked about and not answered")


def unasked(turn: Turn, guess: Sequence[str]) -> None:
    """Half understood, and nobody can be asked now: reopen every good item that it doubts.

    What the open question is about is left to its answer.
    """
    question = turn.state.question
    asked = {claim.callout for claim in question.claims} if question is not None else set()
    for key in guess:
        if key not in asked:
            _reopen(turn, key, "was half heard and could not be asked about")


def _reopen(turn: Turn, key: str, why: str) -> None:
    found = _bad_news(turn, key)
    if found is None:
        return
    item, reading = found
    if reopen_if_good(turn, item, f"'{reading.phrases[0]}' {why}"):
        turn.warn("outstanding", items=item.expected)


def reopen_if_good(turn: Turn, item: Item, reason: str) -> bool:
    """Reopen an item if it is good; whether it was."""
    record = turn.record(item.id)
    if record.now is None or record.now.outcome is not Outcome.SATISFACTORY:
        return False
    turn.restore(item.id, Record(None, (*record.past, replace(record.now, withdrawn=reason))))
    turn.note("withdrawn", item=item.id, called=record.now.called, reason=reason)
    return True


def _bad_news(turn: Turn, key: str) -> tuple[Item, Reading] | None:
    """The item about which this callout is bad news, and what it says."""
    for item in turn.checklist.items:
        for reading in (*item.readings, *item.darks):
            if reading.key == key and reading.grade is not Grade.GOOD:
                return item, reading
    return None
