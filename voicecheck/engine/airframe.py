"""The right airframe: its registration is affirmed with the first bus, before anything counts.

With the wrong file another aircraft would be tested under this one's name, by its power and
without what only this one has. No question is added: it is read back with the first bus, and one
yes is to both. After a session was cut off the crew may be in another aircraft, or have switched.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from voicecheck.engine import power, questions
from voicecheck.engine.actions import SetPower
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.state import Claim
from voicecheck.engine.turn import Turn


def affirmed(turn: Turn, claims: Sequence[Claim]) -> None:
    """The crew says yes to these: to the registration too, if a bus is among them."""
    if turn.state.airframe or not any(isinstance(claim.action, SetPower) for claim in claims):
        return
    turn.set(airframe=True)
    turn.note("airframe", registration=turn.checklist.registration)


def denied(turn: Turn) -> None:
    """No to registration and bus together: say what to do about either."""
    turn.insist("airframe-denied", registration=turn.checklist.registration)


def forget(turn: Turn) -> None:
    """The session was cut off: neither airframe nor power is known any more."""
    turn.set(airframe=False, power=dict.fromkeys(turn.state.power))


def unknown(turn: Turn, call: ItemCall) -> bool:
    """Whether the registration has yet to be affirmed; what nobody foresaw is told all the same."""
    return not turn.state.airframe and not call.item.unforeseen


def refuse(turn: Turn, call: ItemCall) -> None:
    """A call of an item that needs no power does not count either; it is kept as void."""
    power.keep_refused(turn, call.item, call.said, turn.text("needs-airframe"), bad=call.bad)
    turn.warn("airframe-first", registration=turn.checklist.registration)
    questions.repeat(turn)


UNKNOWN: Final = CallRule(
    number="3.1",
    of=frozenset({Scene.OBSERVED, Scene.NAMED, Scene.TIMED_HERE}),
    when="the item needs no power, and the registration has not been affirmed with a bus",
    holds=unknown,
    then=refuse,
    stands="the call as void; bad news makes an earlier good void",
    says=("airframe-first", "confirm-airframe"),
    proof=(
        "test_airframe.py::test_what_needs_no_power_waits_for_the_registration_too",
        "test_airframe.py::test_bad_news_before_the_registration_leaves_nothing_good",
    ),
)
