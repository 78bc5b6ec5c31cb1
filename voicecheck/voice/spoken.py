"""How letters and figures are said on the radio, for text that goes into prompts.

Digit by digit: ICAO Annex 10 Volume II 5.2.1.4.1.1; spelling alphabet: ICAO Doc 9432 2.3.3 and
FAA AIM table 4-2-2.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

from voicecheck.errors import VoicecheckError

_LETTERS: Final = (
    "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november "
    "oscar papa quebec romeo sierra tango uniform victor whiskey xray yankee zulu"
)
_FIGURES: Final = "zero one two three four five six seven eight nine"
ALPHABET: Final = {word[0].upper(): word for word in _LETTERS.split()}
DIGITS: Final = {str(value): word for value, word in enumerate(_FIGURES.split())}

_RESPELT: Final = {"quebec": "kebbeck"}
"""Words that espeak says wrongly as written: Doc 9432 has KEH-BECK, not KWI-BECK."""


def spell(registration: str) -> str:
    """``ZZ-HAA`` -> ``zulu zulu hotel alfa alfa``; hyphens and spaces are not said.

    Raises VoicecheckError for any other sign than a letter A to Z or a digit 0 to 9.
    """
    said = [
        word
        for sign in registration.upper()
        if sign not in "- "
        for word in [ALPHABET.get(sign) or DIGITS.get(sign)]
    ]
    if not said or None in said:
        raise VoicecheckError(
            f"{registration!r} cannot be spelled; use the letters A to Z, digits and hyphens"
        )
    return " ".join(word for word in said if word)


def number(value: int | float | Decimal | str) -> str:
    """Digits singly: 4203 -> ``four two zero three``; 3.5 -> ``three decimal five``.

    A string keeps its zeros: ``"3.50"`` -> ``three decimal five zero``. Raises VoicecheckError for
    what is not written in digits.
    """
    figures = value if isinstance(value, str) else f"{Decimal(str(value)):f}"
    if not re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", figures):
        raise VoicecheckError(f"{value!r} is not a number that can be said; write it in digits")
    if isinstance(value, float):
        # 4.0 is how a float says 4.
        figures = figures.removesuffix(".0")
    words = {"-": "minus", ".": "decimal", **DIGITS}
    return " ".join(words[sign] for sign in figures)


def respelt(text: str) -> str:
    """`text` as the synthesiser must read it to say it right."""
    return re.sub(r"[A-Za-z]+", lambda word: _RESPELT.get(word.group().lower(), word.group()), text)
