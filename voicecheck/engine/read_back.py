"""Two crew on a marked item: a good call counts when the other one has made it too.

With two microphones the channel tells who spoke. With one, turn order does: the call that
follows the first is the other's, and the record says that this is how it is known.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from voicecheck.checklist.resolved import Grade, Item, Reading
from voicecheck.engine.state import Claim, LastAct, Outcome, ReadBack, Record
from voicecheck.engine.turn import Turn

BY_CHANNEL: Final = "by the other microphone"
BY_TURN: Final = "by turn order"


def agreed(turn: Turn, item: Item, reading: Reading, said: Claim) -> bool:
    """Whether the call may be settled now; if not, says what is still wanted.

    Bad news from the first who speaks counts at once. A difference between the two is never
    settled by taking the later call: both look again.
    """
    first = turn.state.read_back
    if first is None or first.item != item.id:
        if reading.grade is not Grade.GOOD:
            return True
        _want(turn, item, reading, said, "read-back-wanted")
        return False
    if turn.state.channels > 1 and said.channel == first.said.channel:
        if reading.grade is not Grade.GOOD:
            turn.set(read_back=None)
            return True
        _want(turn, item, reading, said, "read-back-again")
        return False
    if reading.key == first.reading:
        return True
    turn.set(read_back=None)
    record = turn.record(item.id)
    if record.now is not None and record.now.outcome is Outcome.SATISFACTORY:
        turn.restore(item.id, Record(None, (*record.past, record.now)))
    turn.note("disagreement", item=item.id, first=first.said.words, second=said.words)
    turn.warn("disagreement", first=first.said.words, second=said.words)
    return False


def by_other(turn: Turn, item: Item, reading: Reading, said: Claim) -> bool:
    """Whether this is the other's call, at a microphone of their own, of what waits for it.

    What waits has had its yes if it came after bad news; asked once more, and answered by the
    first as crews do, the two would never come to an end.
    """
    first = turn.state.read_back
    if first is None or (first.item, first.reading) != (item.id, reading.key):
        return False
    return turn.state.channels > 1 and said.channel != first.said.channel


def _want(turn: Turn, item: Item, reading: Reading, said: Claim, prompt: str) -> None:
    turn.set(read_back=ReadBack(item.id, reading.key, replace(said)))
    turn.set(last=LastAct("read-back", item.id, said.words))
    turn.note("read-back", item=item.id, called=said.words, channel=said.channel)
    turn.ask(prompt, words=said.words)


def taken(turn: Turn, item: Item) -> str | None:
    """Close an open read-back of this item; how the second call is known, or None."""
    first = turn.state.read_back
    if first is None or first.item != item.id:
        return None
    turn.set(read_back=None)
    return BY_CHANNEL if turn.state.channels > 1 else BY_TURN


def drop(turn: Turn, item: Item) -> None:
    """What one of them called before about the item is no longer half of a good."""
    if turn.state.read_back is not None and turn.state.read_back.item == item.id:
        turn.set(read_back=None)
