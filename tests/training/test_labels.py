"""From what a synthesiser says to what the listener must write."""

from __future__ import annotations

import pytest

from voicecheck.speech.ctc import NUMBERS
from voicecheck.speech.letter_to_sound import ARPABET
from voicecheck.training import words
from voicecheck.training.labels import label, nearest, word_by_word
from voicecheck.training.mnemonics import bracketed, by_word, letters, phones_of, units


def _said(mnemonics: str) -> tuple[str, ...]:
    found = units(mnemonics)
    assert found is not None
    return phones_of(found)


def test_every_phoneme_has_phones_of_the_listener() -> None:
    for name in ARPABET:
        assert all(phone in NUMBERS for phone in _said(name)), name


def test_stress_pauses_and_word_boundaries_are_read() -> None:
    # As eSpeak NG 1.52 writes "three green and horn".
    found = units("T_r_'i: g_r_'i:_n__:__: a_n_d h_'O@_n")
    assert found is not None
    assert phones_of(found) == (
        "TH",
        "R",
        "IY",
        "G",
        "R",
        "IY",
        "N",
        "AE",
        "N",
        "D",
        "HH",
        "AO",
        "R",
        "N",
    )
    assert [unit.name for unit in found if unit.starts] == ["T", "g", "a", "h"]
    assert letters(found, british=False) == "θɹˈi ɡɹˈin ænd hˈɔɹn"
    assert bracketed(found) == "[[Tr'i: gr'i:n and h'O@n]]"


def test_an_unknown_phoneme_is_told() -> None:
    assert units("h_o_~9") is None


def test_british_vowels_have_their_own_letters() -> None:
    found = units("b_'A:_T")
    assert found is not None
    assert letters(found, british=True) == "bˈɑːθ"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("'a_n_d", "AE N D"),
        ("@_n_d", "AH N D"),
    ],
)
def test_and_is_labelled_as_it_was_said(said: str, expected: str) -> None:
    found = label("and", _said(said), words.ways, lambda word: ())
    assert found == tuple(expected.split())


def test_an_accent_keeps_the_dictionary_s_phones() -> None:
    # "fire" without an r, "path" with a broad a.
    assert label("fire", _said("f_'aI@"), words.ways, lambda _: ("X",)) in (
        ("F", "AY", "ER"),
        ("F", "AY", "R"),
    )
    path = label("path", _said("p_'A:_T"), words.ways, lambda _: _said("p_'A:_T"))
    assert path == ("P", "AE", "TH")


def test_a_name_read_another_way_is_labelled_as_it_was_read() -> None:
    said = ("R", "AY", "Z")
    found = label("ries", said, lambda _: (("R", "IY", "Z"),), lambda _: said)
    assert found == said


def test_a_word_of_no_dictionary_keeps_what_was_said() -> None:
    said = ("P", "AE", "R", "M", "OW")
    assert label("parmo", said, lambda _: (), lambda _: said) == said


def test_what_does_not_fit_is_left_out() -> None:
    said = ("K", "AE", "T")
    assert label("illuminated", said, words.ways, lambda _: ("S", "IH", "N")) is None


def test_the_lattice_chooses_across_words_said_as_one() -> None:
    # "of the" comes as one word.
    ways = [((("AH", "V"), 0.0),), ((("DH", "AH"), 0.0), (("DH", "IY"), 0.0))]
    assert nearest(ways, ("AH", "V", "DH", "IY")) == (("AH", "V", "DH", "IY"), 0.0)


def test_word_by_word_the_label_is_the_same() -> None:
    # As eSpeak NG 1.52 writes "battery low and select three".
    said = units("b_'a_t#_3_r_i l_'oU__:__: a_n_d s_I#_l_'E_k_t T_r_'i:")
    assert said is not None
    text = "battery low and select three"

    def own(_word: str) -> tuple[str, ...]:
        return ("N", "OW")

    alone = [phones_of(word) for word in by_word(said)]
    assert len(alone) == 5
    found = word_by_word(text, alone, words.ways, own)
    assert found is not None
    assert found == label(text, phones_of(said), words.ways, own)


def test_word_by_word_what_does_not_fit_has_no_label() -> None:
    said = [("B", "AE", "T"), ("L", "OW")]
    assert word_by_word("hydraulic pump", said, words.ways, lambda _: ("N", "OW")) is None
