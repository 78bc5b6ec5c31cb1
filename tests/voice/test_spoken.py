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
from voicecheck.voice.spoken import ALPHABET, DIGITS, number, respelt, spell


def test_spelling_alphabet() -> None:
    # FAA AIM table 4-2-2 (F); Doc 9432 2.3.3 in a transcribed copy prints Alpha and X-ray (F).
    assert " ".join(ALPHABET.values()) == (
        "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november "
        "oscar papa quebec romeo sierra tango uniform victor whiskey xray yankee zulu"
    )
    assert "".join(ALPHABET) == "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def test_registrations_are_spelled() -> None:
    assert spell("ZZ-HAA") == "zulu zulu hotel alfa alfa"
    assert spell("zz-j2e") == "zulu zulu juliett two echo"


@pytest.mark.parametrize("odd", ["", "-", "ZZ-HÄA", "ZZ/1", "٣"])
def test_what_cannot_be_spelled_is_refused(odd: str) -> None:
    with pytest.raises(VoicecheckError, match="letters A to Z"):
        spell(odd)


def test_digits_are_said_singly() -> None:
    # Annex 10 Volume II 5.2.1.4.1.1 (F2): 4203; 1000 hPa; runway 27.
    assert number(4203) == "four two zero three"
    assert number(1000) == "one zero zero zero"
    assert number(27) == "two seven"
    # FL200 in the ICAO example, "two zero zero" (F).
    assert number(200) == "two zero zero"


def test_decimals() -> None:
    # "Decimal", as ICAO and CAP 413 Edition 20 (31 March 2011) chapter 2 table 2 (F) have it;
    # the AIM 4-2-8(e) says "point" (F), which is not used here.
    assert number(3.5) == "three decimal five"
    assert number("007") == "zero zero seven"
    assert number("118.10") == "one one eight decimal one zero"
    assert number(4.0) == "four"
    assert number(-0.25) == "minus zero decimal two five"


@pytest.mark.parametrize("odd", ["", "x", "nan", "1e", "--1", float("inf")])
def test_what_is_no_number_is_refused(odd: str | float) -> None:
    with pytest.raises(VoicecheckError, match="not a number that can be said"):
        number(odd)


@given(st.integers(min_value=0, max_value=10**9))
def test_a_number_can_be_written_down_again(value: int) -> None:
    back = {word: digit for digit, word in DIGITS.items()}
    assert "".join(back[word] for word in number(value).split()) == str(value)


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
        ["espeak-ng", "-q", "-x", "-v", "en-gb", respelt(word)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert re.sub(r"[\s',;2]", "", said) == sound


def test_only_whole_words_are_respelt() -> None:
    assert respelt("Quebec, quebecois.") == "kebbeck, quebecois."
