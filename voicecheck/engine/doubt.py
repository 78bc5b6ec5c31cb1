"""A question about bad news that nobody answered: what it asked about is no longer good.

Half understood, and read back: "no fire lights, affirm?" A yes records it and a no drops it.
When the crew goes on, hands over or ends without either, an earlier good call of the same item
must not stand as if nothing had been said.
"""

from __future__ import annotations

from dataclasses import replace

from voicecheck.checklist.resolved import Grade, Item
from voicecheck.engine.state import Ask, Outcome, Record
from voicecheck.engine.turn import Turn


def lapse(turn: Turn) -> None:
    """The open question goes unanswered: reopen every good item that it doubts."""
    question = turn.state.question
    if question is None or question.ask is not Ask.CLAIMS:
        return
    for claim in question.claims:
        item = _doubted(turn, claim.callout)
        record = turn.record(item.id) if item is not None else Record()
        if item is None or record.now is None or record.now.outcome is not Outcome.SATISFACTORY:
            continue
        why = f"'{claim.words}' was asked about and not answered"
        turn.restore(item.id, Record(None, (*record.past, replace(record.now, withdrawn=why))))
        turn.note("withdrawn", item=item.id, called=record.now.called, reason=why)
        turn.warn("outstanding", items=item.expected)


def _doubted(turn: Turn, key: str) -> Item | None:
    """The item about which this callout is bad news."""
    for item in turn.checklist.items:
        for reading in (*item.readings, *item.darks):
            if reading.key == key and reading.grade is not Grade.GOOD:
                return item
    return None
