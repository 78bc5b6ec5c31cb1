"""Where the selector may have gone: calls of other positions that were only half understood.

Until the crew has said yes or no, or where the selector is, no later call about an item counts.
Some positions are called in the same words (both loops of a fire detector), and a call that was
meant for one of them would be written down for the other.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import dropwhile

from voicecheck.checklist.resolved import Item, position_key
from voicecheck.engine import doubt
from voicecheck.engine.events import Unclear
from voicecheck.engine.offers import positions
from voicecheck.engine.state import Ask, Claim, LastAct, Question
from voicecheck.engine.turn import Turn


def half_called(turn: Turn, event: Unclear) -> None:
    """Keep what was half understood, if it may have been a call of another position."""
    if turn.state.position is None or not event.guess:
        return
    known = {offer.callout.key: offer.callout.phrases[0] for offer in positions(turn.checklist)}
    for key in event.guess:
        if key in known:
            said = Claim(key, known[key], event.start, event.end, event.channel)
            turn.set(maybe_at=(*_without(turn, {key}), said))
            settle(turn)


def affirmed(turn: Turn, claims: Sequence[Claim]) -> None:
    """The crew says yes to these: what came before the last of them is answered, too."""
    places = [claim for claim in claims if is_place(turn, claim)]
    turn.set(maybe_at=_without(turn, {claim.callout for claim in places}))
    for claim in places:
        called(turn, claim)


def denied(turn: Turn, claims: Sequence[Claim]) -> None:
    """The crew says no to these, or takes them back."""
    turn.set(maybe_at=_without(turn, {claim.callout for claim in claims}))
    settle(turn)


def called(turn: Turn, said: Claim) -> None:
    """A position was called: only what was half understood after it is still open."""
    turn.set(maybe_at=tuple(c for c in turn.state.maybe_at if c.start > said.start))


def settle(turn: Turn) -> None:
    """Nothing is open about the place where the selector is known to be, unless it left first."""
    here = turn.state.position
    key = None if here is None else position_key(here)
    turn.set(maybe_at=tuple(dropwhile(lambda claim: claim.callout == key, turn.state.maybe_at)))


def is_place(turn: Turn, claim: Claim) -> bool:
    """Whether the claim is a half-understood call of a position that awaits an answer."""
    return any(claim.callout == other.callout for other in turn.state.maybe_at)


def unknown_at(turn: Turn, start: float) -> bool:
    """Whether the selector may have been elsewhere when words were spoken that began then."""
    return any(claim.start < start for claim in turn.state.maybe_at)


def ask(turn: Turn) -> None:
    """Ask about the latest of them, in place of any other question.

    A bus that was being asked about stays unknown until it is called again.
    """
    claim = turn.state.maybe_at[-1]
    turn.set(question=Question(Ask.CLAIMS, (claim,)))
    turn.ask("confirm-position", position=claim.words)


def ask_first(turn: Turn) -> None:
    """Ask in place of something that was said, and that "correction" has nothing to take from."""
    ask(turn)
    turn.set(last=LastAct("question", "", ""))


def refuse(turn: Turn, item: Item, said: Claim, *, bad: bool) -> None:
    """A call about an item that may be of another position does not count.

    bad: it was bad news. An earlier good call of the item does not stand then.
    """
    reason = f"'{turn.state.maybe_at[-1].words}' was half understood and not answered"
    turn.note("refused", item=item.id, called=said.words, reason=reason)
    if bad:
        doubt.reopen_if_good(turn, item, f"'{said.words}' was called, perhaps of another position")
    ask(turn)


def _without(turn: Turn, keys: Collection[str]) -> tuple[Claim, ...]:
    return tuple(claim for claim in turn.state.maybe_at if claim.callout not in keys)
