"""Letters and figures against the published examples.

Tags: F = read in a copy of the source, F2 = as quoted by others, M = from memory.
"""

from __future__ import annotations

import re
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.errors import VoicecheckError
from voicecheck.language import load_language
from voicecheck.shipped import grammars_dir
from voicecheck.voice.spoken import number, respelt, spell

SPEECH = load_language(grammars_dir() / "en").speech
SIGNS, RESPELT = SPEECH.spelling, SPEECH.respelt


def test_spelling_alphabet() -> None:
    # FAA AIM table 4-2-2 (F); Doc 9432 2.3.3 in a transcribed copy prints Alpha and X-ray (F).
    alphabet = {sign: word for sign, word in SIGNS.items() if sign.isalpha()}
    assert " ".join(alphabet.values()) == (
        "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november "
        "oscar papa quebec romeo sierra tango uniform victor whiskey xray yankee zulu"
    )
    assert "".join(alphabet) == "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def test_registrations_are_spelled() -> None:
    assert spell("ZZ-HAA", SIGNS) == "zulu zulu hotel alfa alfa"
    assert spell("zz-j2e", SIGNS) == "zulu zulu juliett two echo"


@pytest.mark.parametrize("odd", ["", "-", "ZZ-HÄA", "ZZ/1", "٣"])
def test_what_cannot_be_spelled_is_refused(odd: str) -> None:
    with pytest.raises(VoicecheckError, match="letters A to Z"):
        spell(odd, SIGNS)


def test_digits_are_said_singly() -> None:
    # Annex 10 Volume II 5.2.1.4.1.1 (F2): 4203; 1000 hPa; runway 27.
    assert number(4203, SIGNS) == "four two zero three"
    assert number(1000, SIGNS) == "one zero zero zero"
    assert number(27, SIGNS) == "two seven"
    # FL200 in the ICAO example, "two zero zero" (F).
    assert number(200, SIGNS) == "two zero zero"


def test_decimals() -> None:
    # "Decimal", as ICAO and CAP 413 Edition 20 (31 March 2011) chapter 2 table 2 (F) have it;
    # the AIM 4-2-8(e) says "point" (F), which is not used here.
    assert number(3.5, SIGNS) == "three decimal five"
    assert number("007", SIGNS) == "zero zero seven"
    assert number("118.10", SIGNS) == "one one eight decimal one zero"
    assert number(4.0, SIGNS) == "four"
    assert number(-0.25, SIGNS) == "minus zero decimal two five"


@pytest.mark.parametrize("odd", ["", "x", "nan", "1e", "--1", float("inf")])
def test_what_is_no_number_is_refused(odd: str | float) -> None:
    with pytest.raises(VoicecheckError, match="not a number that can be said"):
        number(odd, SIGNS)


@given(st.integers(min_value=0, max_value=10**9))
def test_a_number_can_be_written_down_again(value: int) -> None:
    back = {word: digit for digit, word in SIGNS.items() if digit.isdigit()}
    assert "".join(back[word] for word in number(value, SIGNS).split()) == str(value)


SOUNDS = {
    # Espeak's signs for the published pronunciation, stress aside. AIM table 4-2-2 (F):
    # AL-FAH, CHAR-LEE, EK-OH, HOH-TEL, JEW-LEE-ETT, LEE-MAH, PAH-PAH, KEH-BECK, SEE-AIR-RAH,
    # ECKS-RAY, ZOO-LOO.
    "alfa": "alf@",
    "charlie": "tSA@li",
    "echo": "EkoU",
    "hotel": "hoUtEl",
    "juliett": "dZu:lIEt",
    "lima": "li:ma#",
    "papa": "pa#pA:",
    "quebec": "kEbEk",
    "sierra": "si:e@r@",
    "xray": "EksreI",
    "zulu": "zu:lu:",
}


@pytest.mark.parametrize(("word", "sound"), SOUNDS.items())
def test_the_synthesiser_says_the_alphabet_right(word: str, sound: str) -> None:
    said = subprocess.run(
        ["espeak-ng", "-q", "-x", "-v", "en-gb", respelt(word, RESPELT)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert re.sub(r"[\s',;2]", "", said) == sound


def test_only_whole_words_are_respelt() -> None:
    assert respelt("Quebec, quebecois.", RESPELT) == "kebbeck, quebecois."


def test_a_language_without_spelling_leaves_it_to_the_synthesiser() -> None:
    assert spell("ZZ-HAA", {}) == "ZZ-HAA"
    assert number("3.50", {}) == "3.50"
