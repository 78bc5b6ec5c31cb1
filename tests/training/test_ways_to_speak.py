"""An accent changes how a callout is said, never what its label is made of."""

from __future__ import annotations

import random

from voicecheck.training.ways_to_speak import EXCHANGED, with_an_accent

_SAID = "θɹˈi ɡɹˈin ænd hˈɔɹn dˈɑɹk"


def test_most_are_heard_to_differ_and_the_same_seed_says_the_same() -> None:
    told = [with_an_accent(_SAID, random.Random(seed)) for seed in range(100)]
    assert sum(one != _SAID for one in told) >= 95
    assert len(set(told)) >= 60
    assert told == [with_an_accent(_SAID, random.Random(seed)) for seed in range(100)]


def test_words_and_stress_stay() -> None:
    for seed in range(100):
        told = with_an_accent(_SAID, random.Random(seed))
        assert told.count(" ") == _SAID.count(" ")
        assert told.count("ˈ") == _SAID.count("ˈ")


def test_an_r_is_left_out_after_vowels_only() -> None:
    dropped = [
        told
        for seed in range(200)
        if "hˈɔːn" in (told := with_an_accent("ɹˈɛd hˈɔɹn", random.Random(seed)))
    ]
    assert dropped
    assert all(told[0] in ("ɹ", "ɾ", "r", "ʁ", "ɻ", "ʋ") for told in dropped)


def test_no_letter_is_exchanged_for_itself() -> None:
    assert all(one != other for one, other in EXCHANGED)
