from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicecheck.callouts import Callout, Stakes
from voicecheck.speech.decoys import decoys_of, neighbours
from voicecheck.speech.grammar import Grammar, dearest
from voicecheck.speech.lexicon import Lexicon

LEXICON = Lexicon({}, ("and",), (("on", "off"), ("one", "two", "three", "no")), ("not", "no"), ())


def said(
    key: str, *phrases: str, joins: bool = True, stakes: Stakes = Stakes.RECORDS_BAD
) -> Callout:
    return Callout(key, phrases, stakes, joins)


GEAR = Grammar(
    (
        said("greens:3", "three green", stakes=Stakes.CLOSES_GOOD),
        said("greens:2", "two green"),
        said("reds:1", "one red"),
        said("horn", "horn sounding", "horn"),
        said("light", "light"),
        said("light-out", "light out"),
        said("out-one", "out one red"),
        said("command:correction", "correction", joins=False, stakes=Stakes.ADVANCES),
        said("command:say-again", "say again", joins=False, stakes=Stakes.ASKS),
    )
)


def keys(text: str) -> list[str] | None:
    parts = GEAR.read(text.split())
    return None if parts is None else [part.callout.key for part in parts]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("three green", ["greens:3"]),
        ("three green one red", ["greens:3", "reds:1"]),
        ("three green and one red and horn sounding", ["greens:3", "reds:1", "horn"]),
        ("correction two green", ["command:correction", "greens:2"]),
        ("correction", ["command:correction"]),
        ("say again", ["command:say-again"]),
        ("say again two green", None),
        ("two green say again", None),
        ("two green correction", None),
        ("three", None),
        ("three green and", None),
        ("and three green", None),
        ("three green and and one red", None),
        ("", None),
        ("correction say again", None),
        ("horn horn horn horn", ["horn"] * 4),
        ("horn horn horn horn horn", None),
    ],
)
def test_words_are_read_back_to_callouts(text: str, expected: list[str] | None) -> None:
    assert keys(text) == expected


def test_the_longest_first_phrase_wins_between_equal_readings() -> None:
    assert keys("light out one red") == ["light-out", "reds:1"]


def test_parts_say_which_words_they_are() -> None:
    parts = GEAR.read(["three", "green", "and", "one", "red"])
    assert parts is not None
    assert [(part.first, part.last) for part in parts] == [(0, 2), (3, 5)]
    assert dearest(parts) is Stakes.CLOSES_GOOD


@given(
    st.lists(st.sampled_from(GEAR.joining), min_size=1, max_size=4),
    st.lists(st.booleans(), min_size=3, max_size=3),
    st.booleans(),
)
def test_every_row_that_can_be_said_can_be_read(
    row: list[str], joined: list[bool], corrected: bool
) -> None:
    words = ["correction"] if corrected else []
    for at, phrase in enumerate(row):
        if at and joined[at - 1]:
            words.append("and")
        words += phrase.split()
    parts = GEAR.read(words)
    assert parts is not None
    assert len(parts) <= len(row) + corrected
    covered = [word for part in parts for word in words[part.first : part.last]]
    assert covered == [word for word in words if word != "and"]


def test_a_wording_of_two_callouts_is_marked() -> None:
    grammar = Grammar((said("a", "horn"), said("b", "horn", "bell")))
    assert grammar.shared == {"horn"}


def test_an_empty_grammar_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one phrase"):
        Grammar(()).jsgf()


def test_decoys_are_opposites_and_never_callouts() -> None:
    grammar = Grammar(
        (said("on", "battery on"), said("off", "battery off"), said("3", "three green"))
    )
    decoys = decoys_of(grammar.phrases, grammar, LEXICON)
    assert "two green" in decoys
    assert "no green" in decoys
    assert "no battery on" in decoys
    assert "battery off" not in decoys
    assert all(grammar.read(decoy.split()) is None for decoy in decoys)


def test_a_negated_phrase_has_its_plain_form_as_neighbour() -> None:
    assert "horn" in set(neighbours("no horn", LEXICON))


WORDS = ["no", "not", "one", "two", "three", "on", "off", "horn", "red"]


@settings(deadline=None)
@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=4))
def test_a_neighbour_always_differs(words: list[str]) -> None:
    phrase = " ".join(words)
    assert phrase not in set(neighbours(phrase, LEXICON))
