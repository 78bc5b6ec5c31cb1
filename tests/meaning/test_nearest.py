"""The nearest meaning passes words over, makes none up, and never passes over a denial."""

from __future__ import annotations

import pytest

from voicecheck.meaning.network import Network, Ways
from voicecheck.meaning.pattern import parse
from voicecheck.meaning.spelling import Spelling

SPELLING = Spelling(
    ("'s",), frozenset({"the", "okay"}), (("isn't", "is not"), ("cut out", "cutout"))
)
HORN = Network(
    {
        "good": Ways(("horn sounding",), (parse("horn is loud"),)),
        "bad": Ways(("no horn",), (parse("horn is not loud"),)),
    },
    {"links": parse("[is | 's]")},
    SPELLING,
    denials=frozenset({"not", "no", "two"}),
)


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("the horn is awfully loud", {"good"}),
        ("the horn isn't awfully loud", {"bad"}),
        ("horn is not quite so loud", {"bad"}),
        ("not horn is loud", set()),
        ("two horn is loud", set()),
        ("horn", set()),
        ("a b horn is loud", set()),
        ("horn loud", set()),
    ],
)
def test_the_nearest_is_a_question(text: str, keys: set[str]) -> None:
    """At most half as many words are passed over as are read; none is made up."""
    meant = HORN.nearest(HORN.words(text), ("good", "bad"))
    assert (meant.keys, meant.key) == (keys, None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Okay, the horn isn't on", "horn is not on"),
        ("horn's cut out", "horn 's cutout"),
        ("okay", ""),
        ("cut", "cut"),
    ],
)
def test_words_have_one_spelling(text: str, words: str) -> None:
    assert " ".join(SPELLING.words(text)) == words


def test_of_alternatives_none_becomes_nothing() -> None:
    """Else "horn (loud | okay)" would read "horn", the name alone, as a result."""
    assert SPELLING.pattern(parse("horn (loud | okay)")) == parse("horn loud")
    assert SPELLING.pattern(parse("horn [okay]")) == parse("horn")


@pytest.mark.parametrize("text", ["horn sounding", "the horn is sounding", "horn's sounding"])
def test_what_is_taught_may_be_linked(text: str) -> None:
    assert HORN.meant(HORN.words(text), ("good", "bad")).key == "good"
