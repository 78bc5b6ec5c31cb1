"""The pairing code: one device each, and guessing costs more and more."""

from __future__ import annotations

import pytest

from voicecheck.display.pairing import FIRST_WAIT, LONGEST_WAIT, WRONG_PER_CODE, Pairing


class Hands:
    """A clock that is turned by hand, and the codes that were shown."""

    def __init__(self) -> None:
        self.now = 1000.0
        self.codes: list[str] = []
        self.pairing = Pairing(lambda: self.now, self.codes.append)

    def wrong(self) -> str:
        return f"{(int(self.codes[-1]) + 1) % 1_000_000:06d}"


def test_the_code_pairs_one_device_and_is_gone() -> None:
    hands = Hands()
    code = hands.codes[-1]
    key = hands.pairing.enter(f" {code[:3]} {code[3:]} ")
    assert key is not None
    assert hands.pairing.knows(key)
    assert len(hands.codes) == 2
    if hands.codes[-1] != code:  # one in a million
        assert hands.pairing.enter(code) is None


@pytest.mark.parametrize("key", [None, "", "x", "\u00e9"])
def test_no_other_key_is_known(key: str | None) -> None:
    hands = Hands()
    hands.pairing.enter(hands.codes[-1])
    assert not hands.pairing.knows(key)


def test_even_the_right_code_is_not_looked_at_while_waiting() -> None:
    hands = Hands()
    assert hands.pairing.enter(hands.wrong()) is None
    assert hands.pairing.enter(hands.codes[-1]) is None
    hands.now += FIRST_WAIT
    assert hands.pairing.enter(hands.codes[-1]) is not None


def test_each_wrong_code_doubles_the_wait() -> None:
    hands = Hands()
    waits = []
    for _ in range(12):
        assert hands.pairing.enter(hands.wrong()) is None
        waits.append(hands.pairing.wait)
        hands.now += hands.pairing.wait
    assert waits == [min(LONGEST_WAIT, FIRST_WAIT * 2**n) for n in range(12)]


def test_the_code_is_replaced_after_a_few_wrong_ones() -> None:
    hands = Hands()
    for _ in range(WRONG_PER_CODE):
        assert len(hands.codes) == 1
        hands.pairing.enter(hands.wrong())
        hands.now += hands.pairing.wait
    assert len(hands.codes) == 2


def test_a_year_of_guessing_gets_nowhere() -> None:
    """The bound that the waits give: guesses in a year times the chance of each."""
    hands = Hands()
    guesses = 0
    end = hands.now + 365 * 24 * 3600
    while hands.now < end and guesses < 200_000:
        hands.pairing.enter(hands.wrong())
        guesses += 1
        hands.now += hands.pairing.wait
    assert guesses / 1_000_000 < 0.12
