"""How letters and figures are said, for text that goes into prompts: each by itself.

The words come from the language (`spelling` in its speech.yaml), by letter or digit. Without any,
the synthesiser reads what is written in its own way.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal

from voicecheck.errors import VoicecheckError


def spell(registration: str, signs: Mapping[str, str]) -> str:
    """In English ``ZZ-HAA`` -> ``zulu zulu hotel alfa alfa``; hyphens and spaces are not said.

    Raises VoicecheckError for any other sign than those of the language.
    """
    if not signs:
        return registration
    said = [signs.get(sign, "") for sign in registration.upper() if sign not in "- "]
    if not said or not all(said):
        raise VoicecheckError(
            f"{registration!r} cannot be spelled; use the letters A to Z, digits and hyphens"
        )
    return " ".join(said)


def number(value: int | float | Decimal | str, signs: Mapping[str, str]) -> str:
    """Digits singly, in English 4203 -> ``four two zero three``; 3.5 -> ``three decimal five``.

    A string keeps its zeros: ``"3.50"`` -> ``three decimal five zero``. Raises VoicecheckError for
    what is not written in digits.
    """
    figures = value if isinstance(value, str) else f"{Decimal(str(value)):f}"
    if not re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", figures):
        raise VoicecheckError(f"{value!r} is not a number that can be said; write it in digits")
    if isinstance(value, float):
        # 4.0 is how a float says 4.
        figures = figures.removesuffix(".0")
    if not all(sign in signs for sign in figures):
        return figures
    return " ".join(signs[sign] for sign in figures)


def respelt(text: str, table: Mapping[str, str]) -> str:
    """`text` as the synthesiser must read it to say it right."""
    return re.sub(r"[^\W\d_]+", lambda word: table.get(word.group().lower(), word.group()), text)
