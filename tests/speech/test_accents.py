"""An accent is tolerated where it is a vowel beside another, and nowhere else."""

from __future__ import annotations

import numpy as np
import pytest

from voicecheck.speech import ctc
from voicecheck.speech.accents import COST, NEAR, run_together, tolerant
from voicecheck.speech.ctc import NUMBERS


def _frames(phone: str) -> ctc.Floats:
    frames = np.full((1, ctc.CLASSES), -20.0)
    frames[0, NUMBERS[phone]] = 0.0
    return frames


@pytest.mark.parametrize(("said", "other"), [("EY", "EH"), ("EH", "EY"), ("OY", "AY")])
def test_a_near_vowel_costs_little(said: str, other: str) -> None:
    found = tolerant(_frames(said))
    assert found[0, NUMBERS[other]] == -COST
    assert found[0, NUMBERS[said]] == 0.0


@pytest.mark.parametrize(("said", "other"), [("S", "Z"), ("EY", "OW"), ("IY", "AA"), ("N", "M")])
def test_anything_else_costs_what_it_did(said: str, other: str) -> None:
    assert tolerant(_frames(said))[0, NUMBERS[other]] == -20.0


def test_tolerance_does_not_add_up() -> None:
    # EY lies near IY and IY near UW, which does not make UW near EY.
    assert tolerant(_frames("EY"))[0, NUMBERS["UW"]] == -20.0


def test_only_vowels_are_near() -> None:
    assert len({frozenset(pair) for pair in NEAR}) == len(NEAR)
    assert all(phone[0] in "AEIOU" for pair in NEAR for phone in pair)


def test_the_frames_given_stay_as_they_are() -> None:
    frames = _frames("EY")
    tolerant(frames)
    assert frames[0, NUMBERS["EH"]] == -20.0


@pytest.mark.parametrize(
    ("way", "expected"),
    [
        ((1, 2, 3), {(1, 2, 3)}),
        ((1, 2, 2, 3), {(1, 2, 2, 3), (1, 2, 3)}),
        ((4, 4, 5, 6, 6), {(4, 4, 5, 6, 6), (4, 5, 6, 6), (4, 4, 5, 6), (4, 5, 6)}),
    ],
)
def test_equal_neighbours_may_be_one(way: ctc.Way, expected: set[ctc.Way]) -> None:
    found = run_together(way)
    assert set(found) == expected
    assert found[0] == way
