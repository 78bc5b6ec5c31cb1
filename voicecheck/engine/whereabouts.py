"""Where the selector may have gone: calls of other positions that were only half understood.

Until the crew has said yes or no, or where the selector is, no later call about an item counts.
Some positions are called in the same words (both loops of a fire detector), and a call that was
meant for one of them would be written down for the other.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import dropwhile
from typing import Final

from voicecheck.engine import questions, second_call
from voicecheck.engine.actions import Select, Stay
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.events import Unclear
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.offers import place_offers
from voicecheck.engine.phases import Phase
from voicecheck.engine.reopening import PERHAPS_ELSEWHERE, reopen
from voicecheck.engine.state import Ask, Claim
from voicecheck.engine.turn import Turn


def half_called(turn: Turn, event: Unclear) -> None:
    """Keep what was half understood, if it may have been a call of another position."""
    if turn.state.position is None:
        return
    known = place_offers(turn.checklist)
    for key in event.guess:
        offer = known.get(key)
        if offer is not None:
            words = offer.callout.phrases[0]
            said = turn.claim(key, offer.action, words, event.start, event.end, event.channel)
            turn.set(maybe_at=(*_without(turn, {key}), said))
            forget_known(turn)


def affirmed(turn: Turn, claims: Sequence[Claim]) -> None:
    """The crew says yes to these: what came before the last of them is answered, too."""
    places = [claim for claim in claims if turn.state.is_place(claim)]
    turn.set(maybe_at=_without(turn, {claim.callout for claim in places}))
    for claim in places:
        called(turn, claim)


def denied(turn: Turn, claims: Sequence[Claim]) -> None:
    """The crew says no to these, or takes them back."""
    if any(isinstance(claim.action, Stay) for claim in claims):
        unselect(turn)
    turn.set(maybe_at=_without(turn, {claim.callout for claim in claims}))
    forget_known(turn)


def called(turn: Turn, said: Claim) -> None:
    """A position was called: only what was half understood after it is still open.

    One that is not fitted does not tell where the selector is.
    """
    later = tuple(c for c in turn.state.maybe_at if c.start > said.start)
    lost = turn.state.place_lost and not isinstance(said.action, Select | Stay)
    turn.set(maybe_at=later, place_lost=lost)


def forget_known(turn: Turn) -> None:
    """Nothing is open about the place where the selector is known to be, unless it left first."""
    turn.set(maybe_at=tuple(dropwhile(lambda claim: _is_here(turn, claim), turn.state.maybe_at)))


def unselect(turn: Turn) -> None:
    """Nobody knows any more where the selector is."""
    if turn.phase in (Phase.TESTING, Phase.AT_REST):
        turn.move("unselect")
    turn.set(position=None, dark_asked=None, maybe_at=(), place_lost=False)


def _is_here(turn: Turn, claim: Claim) -> bool:
    action = claim.action
    return isinstance(action, Select) and action.position.id == turn.state.position


def in_doubt(turn: Turn, call: ItemCall) -> bool:
    """Whether the selector may have been elsewhere when the words were spoken."""
    return any(claim.start < call.said.start for claim in turn.state.maybe_at)


def refuse(turn: Turn, call: ItemCall) -> None:
    """A call about an item that may be of another position does not count."""
    not_counted(turn, call, turn.text("doubt-place", call=turn.state.maybe_at[-1].words))
    ask(turn)


def not_counted(turn: Turn, call: ItemCall, reason: str) -> None:
    """Nothing of the call stands, and bad news leaves nothing good: it may be of either place."""
    item, words = call.item, call.said.words
    turn.note("refused", item=item.id, called=words, reason=reason)
    if call.bad:
        reopen(turn, item, PERHAPS_ELSEWHERE, call=words)
        second_call.drop(turn, item)


IN_DOUBT: Final = CallRule(
    number="4.1",
    of=frozenset({Scene.OBSERVED, Scene.NAMED}),
    when="the call of another position was half understood before it, and not answered",
    holds=in_doubt,
    then=refuse,
    stands="nothing of the call; bad news reopens an earlier good (6.4)",
    says=("confirm-position",),
    proof=(
        "test_whereabouts.py::test_an_item_does_not_count_while_the_position_is_asked_about",
        "test_whereabouts.py::test_calling_the_position_again_is_an_answer",
        "test_whereabouts.py::test_bad_news_that_may_be_of_either_leaves_nothing_good",
    ),
)


def ask(turn: Turn) -> None:
    """Ask about the latest of them, in place of any other question.

    A bus that was being asked about stays unknown until it is called again.
    """
    claim = turn.state.maybe_at[-1]
    questions.open_question(turn, Ask.CLAIMS, (claim,))
    turn.insist("confirm-position", position=claim.words)


def _without(turn: Turn, keys: Collection[str]) -> tuple[Claim, ...]:
    return tuple(claim for claim in turn.state.maybe_at if claim.callout not in keys)
