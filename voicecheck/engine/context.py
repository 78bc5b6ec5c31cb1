"""What was known before a gap: after it, nobody knows power or position until somebody says so.

A gap is a hold of over a minute, a lost microphone, or a session that was cut off: the crew may
have thrown switches, turned the selector, and said so to nobody. One question asks whether all is
as it was; after a session that was cut off nothing is taken for likely enough to be asked about.
"""

from __future__ import annotations

from typing import Final

from voicecheck.checklist.resolved import position_key
from voicecheck.engine import power, questions, timed, whereabouts
from voicecheck.engine.actions import SetPower, Stay
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.offers import bus_offers
from voicecheck.engine.state import Ask, Asked, Claim
from voicecheck.engine.turn import Turn

GAP: Final = 60.0
"""Seconds of a hold after which things may have been changed that nobody remembers."""


def is_gap(turn: Turn) -> bool:
    """Whether the hold that ends now was a gap."""
    since = turn.state.held_from
    return turn.state.cut or (since is not None and turn.now - since > GAP)


def doubt(turn: Turn) -> None:
    """After a gap: forget power and position, and ask whether they are as they were."""
    assert turn.state.held_from is not None
    since = max(turn.state.held_from, turn.now - GAP)
    questions.lapse(turn)
    timed.missed(turn, turn.state.held_from, turn.state.held_from)
    claims = _buses(turn, since)
    if turn.state.position is not None and turn.state.airframe:
        turn.set(place_lost=True)
        claims = (*claims, _here(turn))
    elif turn.state.position is not None:
        whereabouts.unselect(turn)
    turn.set(question=None)
    if claims:
        questions.pose(turn, claims)


def _buses(turn: Turn, since: float) -> tuple[Claim, ...]:
    """Ask about each bus, but for those that were affirmed since; they are unknown until then."""
    fresh = {bus for bus, _, at in turn.state.power_log if at >= since}
    asked: list[Claim] = []
    for claim in turn.state.power_claims:
        assert isinstance(claim.action, SetPower)
        if claim.start >= since:
            asked.append(claim)
        elif turn.state.airframe:
            asked.append(_bus(turn, claim.action.bus, claim.action.state))
    for bus, state in turn.power.items():
        if bus not in fresh:
            power.forget(turn, bus, since)
            asked.append(_bus(turn, bus, state))
    return tuple(asked)


def _bus(turn: Turn, bus: str, state: str) -> Claim:
    key = f"power:{bus}:{state}"
    offer = bus_offers(turn.checklist)[key]
    return turn.claim(key, offer.action, offer.callout.phrases[0], turn.now, turn.now, 0)


def _here(turn: Turn) -> Claim:
    position = turn.position
    assert position is not None
    key = position_key(position.id)
    return turn.claim(key, Stay(position), position.say, turn.now, turn.now, 0)


def ask(turn: Turn) -> None:
    """Ask where the selector is, and about power, if that is open."""
    claims = turn.state.claims
    if not any(map(turn.state.is_place, claims)):
        claims = (*turn.state.power_claims, _here(turn))
    questions.open_question(turn, Ask.CLAIMS, claims)
    turn.insist("confirm-position", position=turn.list(claim.words for claim in claims))


def ask_first(turn: Turn) -> None:
    """Ask where the selector is in place of something said: there is no call to take back."""
    if turn.state.maybe_at:
        whereabouts.ask(turn)
    else:
        ask(turn)
    turn.set(last=Asked(""))


def lost(turn: Turn, _call: ItemCall) -> bool:
    """Whether nobody has said since a gap where the selector is."""
    return turn.state.place_lost


def refuse(turn: Turn, call: ItemCall) -> None:
    """What is called after a gap may be of another position; bad news leaves nothing good."""
    whereabouts.not_counted(turn, call, turn.text("doubt-gap"))
    ask(turn)


AFTER_A_GAP: Final = CallRule(
    number="14.1",
    of=frozenset({Scene.OBSERVED, Scene.NAMED, Scene.TIMED_HERE}),
    when="nobody has said since a gap where the selector is",
    holds=lost,
    then=refuse,
    stands="nothing of the call; bad news reopens an earlier good (6.4)",
    says=("confirm-position",),
    proof=(
        "test_gaps.py::test_after_a_long_hold_nothing_counts_before_a_yes",
        "test_gaps.py::test_after_a_lost_microphone_bad_news_leaves_nothing_good",
    ),
)


def may_be_shared(turn: Turn, call: ItemCall) -> bool:
    """Whether the words are another position's, too, and one may have been called unheard."""
    missed = turn.state.missed_from is not None and not call.affirmed
    return missed and not call.bad and turn.checklist.is_shared(call.said.callout)


def confirm_here(turn: Turn, call: ItemCall) -> None:
    """Read back with the position's name; it counts after a yes."""
    questions.pose(turn, (call.said,), call.said.words)
    questions.repeat(turn)


SHARED: Final = CallRule(
    number="14.2",
    of=frozenset({Scene.OBSERVED}),
    when="good news in words that another position shares, after words that were not understood",
    holds=may_be_shared,
    then=confirm_here,
    stands="what stood, until the yes",
    says=("confirm",),
    proof=("test_gaps.py::test_shared_words_after_missed_ones_are_read_back_with_their_position",),
)
