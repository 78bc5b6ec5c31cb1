"""Two crew on a marked item: a good call counts when the other one has made it too.

With two microphones the channel tells who spoke. With one, turn order does: the call that
follows the first is the other's, and the record says that this is how it is known. Bad news from
the first who speaks counts at once. A difference between the two is never settled by taking the
later call: both look again, and the bad call is a finding until they agree.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from voicecheck.checklist.resolved import Item
from voicecheck.engine.item_call import ItemCall
from voicecheck.engine.reopening import DIFFERED, keep_finding, reopen
from voicecheck.engine.state import Differed, FirstCall, FirstCalled, Outcome
from voicecheck.engine.turn import Turn

BY_CHANNEL: Final = "read-back-channel"
BY_TURN: Final = "read-back-turn"
"""Texts of the record: how the second call is known to be the other's."""


def _first(turn: Turn, item: Item) -> FirstCall | None:
    """The first call of the two about an item, if one waits for the other's."""
    first = turn.state.first_call
    return first if first is not None and first.item == item.id else None


def _wanted(turn: Turn, call: ItemCall) -> bool:
    return call.item.read_back and turn.state.second


def _same_voice(turn: Turn, first: FirstCall, call: ItemCall) -> bool:
    """Whether both may be of one person: a touch is nobody's voice."""
    if first.said.touched or call.said.touched:
        return True
    return turn.state.channels > 1 and call.said.channel == first.said.channel


def is_first(turn: Turn, call: ItemCall) -> bool:
    """One of two calls a marked item good, and the other has not yet."""
    return _wanted(turn, call) and not call.bad and _first(turn, call.item) is None


def is_same_voice(turn: Turn, call: ItemCall) -> bool:
    """Whoever called it good first calls it good again."""
    first = _first(turn, call.item)
    return (
        _wanted(turn, call)
        and not call.bad
        and first is not None
        and _same_voice(turn, first, call)
    )


def differs(turn: Turn, call: ItemCall) -> bool:
    """The other one calls it otherwise than the first."""
    first = _first(turn, call.item)
    if not _wanted(turn, call) or first is None or _same_voice(turn, first, call):
        return False
    return call.reading.key != first.reading


def await_other(turn: Turn, call: ItemCall) -> None:
    """Keep the first call, and ask for the other's."""
    first = _first(turn, call.item)
    again = first is not None
    if first is None or not call.said.touched:  # a touch takes nobody's voice away
        turn.set(first_call=FirstCall(call.item.id, call.reading.key, call.said))
    turn.set(last=FirstCalled(call.item.id, call.said.words))
    turn.note("read-back", item=call.item.id, called=call.said.words, channel=call.said.channel)
    words = turn.read_back(call.said)
    turn.insist("read-back-again" if again else "read-back-wanted", words=words)


def differ(turn: Turn, call: ItemCall) -> None:
    """Both are to look again; what one of them called bad is not forgotten meanwhile."""
    first = turn.state.first_call
    assert first is not None
    turn.set(first_call=None)
    words = {"first": first.said.words, "second": call.said.words}
    reopen(turn, call.item, DIFFERED, **words)
    turn.note("disagreement", item=call.item.id, **words)
    turn.set(last=Differed(call.item.id, call.said.call, call.said.words))
    if call.bad:
        called = turn.result_of(call.said, Outcome.UNSATISFACTORY, reason=call.reading.finding)
        called = replace(called, dark=call.reading.lamps)
        keep_finding(turn, call.item, called, DIFFERED, **words)
    turn.warn("disagreement", **words)


def by_other(turn: Turn, call: ItemCall) -> bool:
    """Whether this is the other's call, at a microphone of their own, of what waits for it.

    What waits has had its yes if it came after bad news; asked once more, and answered by the
    first as crews do, the two would never come to an end.
    """
    first = _first(turn, call.item)
    if first is None or first.reading != call.reading.key or _same_voice(turn, first, call):
        return False
    return turn.state.channels > 1


def taken(turn: Turn, item: Item) -> str | None:
    """The other's call has come; how it is known to be theirs, or None if none was awaited."""
    if _first(turn, item) is None:
        return None
    turn.set(first_call=None)
    return turn.text(BY_CHANNEL if turn.state.channels > 1 else BY_TURN)


def drop(turn: Turn, item: Item) -> None:
    """What one of them called before about the item is no longer half of a good."""
    if _first(turn, item) is not None:
        turn.set(first_call=None)
