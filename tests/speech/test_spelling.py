from __future__ import annotations

import pytest

from voicecheck.speech.sounds import likeness, packaged_dictionary
from voicecheck.speech.spelling import spelled


@pytest.mark.parametrize(
    ("written", "ours"),
    [
        (" 3 green.", "three green"),
        ("Three Green, one red!", "three green one red"),
        ("One grain. One grain. One gr", "one grain"),
        ("No red. No red. No red.", "no red"),
        ("hornfail hornfail hornf", "hornfail"),
        ("Left three, right three.", "left three right three"),
        ("   ", ""),
        ("24 on board", "24 on board"),
    ],
)
def test_free_text_comes_out_in_our_spelling(written: str, ours: str) -> None:
    assert spelled(written) == ours


def test_only_the_differing_words_are_compared_in_sound() -> None:
    sounds = packaged_dictionary()
    assert likeness("going to fire", "going to fire", sounds) == 1.0
    far = likeness("going to fire", "going to flaps", sounds)
    near = likeness("two green", "to green", sounds)
    assert far is not None
    assert near is not None
    assert far < 0.3 < near
    assert likeness("two green", "two zorbligates", sounds) is None
