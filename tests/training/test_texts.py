"""What the training says: never what is held back, near misses that really differ."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from rapidfuzz.distance import Levenshtein

from voicecheck.measure.outside_speech import CHATTER
from voicecheck.training import words
from voicecheck.training.mnemonics import VOWELS, phones_of, units
from voicecheck.training.near_misses import altered, beside, near_miss, speakable
from voicecheck.training.texts import SHARES, Texts

CLAUSES = [
    ("the", "pump", "of", "the", "left", "engine", "was", "replaced", "before", "the", "flight")
]


@pytest.fixture(autouse=True)
def _few_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """A short list stands for the thousands of a package that not everybody has."""
    monkeypatch.setattr(words, "common", lambda: ("kettle", "window", "answer", "river", "flight"))


def _texts(seed: int, count: int) -> list[tuple[str, str]]:
    texts = Texts(seed, CLAUSES)
    return [texts.draw() for _ in range(count)]


def test_the_same_seed_says_the_same() -> None:
    assert _texts(3, 40) == _texts(3, 40) != _texts(4, 40)


def test_every_kind_is_said_and_nothing_that_is_held_back() -> None:
    drawn = _texts(5, 600)
    assert {kind for _, kind in drawn} == set(SHARES)
    assert sum(SHARES.values()) == pytest.approx(1)
    said = {word for text, _ in drawn for word in text.split()}
    assert not said & words.HELD
    assert not {text for text, _ in drawn} & set(CHATTER)
    assert not [text for text, _ in drawn if "{" in text]


def test_held_words_are_in_none_of_the_lists() -> None:
    assert not words.HELD & set(words.TRADE)
    assert not words.HELD & set(words.dictionary())
    assert all(words.ways(word) for word in words.TRADE)


@pytest.mark.parametrize("word", ["gear", "horn", "lit"])
def test_neighbours_of_a_word_are_one_phone_away(word: str) -> None:
    found = beside(word)
    assert found
    for other in found:
        apart = min(
            Levenshtein.distance(one, two) for one in words.ways(word) for two in words.ways(other)
        )
        assert apart == 1, other


def test_select_beer_lies_beside_select_gear() -> None:
    assert "beer" in beside("gear")


def test_a_near_miss_never_sounds_the_same() -> None:
    choose = random.Random(2)
    made = [near_miss("select gear", choose) for _ in range(200)]
    there = [text for text in made if text]
    assert len(there) > 150
    gear = {(*one, *two) for one in words.ways("select") for two in words.ways("gear")}
    for text in there:
        first, second = text.split()
        assert {first, second} != {"select", "gear"}
        ways = {(*one, *two) for one in words.ways(first) for two in words.ways(second)}
        assert not ways <= gear


def test_altered_phonemes_differ_and_can_be_said() -> None:
    said = units("s_I2_l_'E_k_t g_'i@3")
    assert said is not None
    choose = random.Random(1)
    made = [altered(said, choose) for _ in range(200)]
    differing = [units for units in made if phones_of(units) != phones_of(said)]
    assert len(differing) > 150
    for one in made:
        if len(one) == len(said):
            changed = [(a, b) for a, b in zip(said, one, strict=True) if a.phones != b.phones]
            assert len(changed) <= 1
            for before, after in changed:
                assert (before.phones[0] in VOWELS) == (after.phones[0] in VOWELS)
    assert not speakable([])


def test_prose_is_cut_into_clauses_of_known_words(tmp_path: Path) -> None:
    file = tmp_path / "page.md"
    file.write_text("The horn sounds, and the lamp goes out. `code` xqzzt is nothing here.\n")
    assert list(words.prose([file])) == [
        ("the", "horn", "sounds"),
        ("and", "the", "lamp", "goes", "out"),
    ]
    module = tmp_path / "module.py"
    module.write_text('x = "no prose at all here"\n\ndef f():\n    """A row of four lamps."""\n')
    assert list(words.prose([module])) == [("a", "row", "of", "four", "lamps")]
