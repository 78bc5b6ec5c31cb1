"""eSpeak NG's phoneme names in two other alphabets: ARPAbet for labels, and Kokoro's letters."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from voicecheck.speech.letter_to_sound import ARPABET

_ACCENTS: Final = {"t[": "T", "aI2": "AY", "i::": "IY"}
"""Names that only some accents use."""
_KNOWN: Final = {**ARPABET, **_ACCENTS}
_BEFORE: Final = re.compile(r"^[',%=|;:]+")
_AFTER: Final = re.compile(r"[|;~:]+$")
_LETTERS: Final = {
    "AA": "ɑ", "AE": "æ", "AO": "ɔ", "AW": "W", "AY": "I", "EH": "ɛ", "EY": "A", "IH": "ɪ",
    "IY": "i", "OW": "O", "OY": "Y", "UH": "ʊ", "UW": "u", "B": "b", "CH": "ʧ", "D": "d",
    "DH": "ð", "F": "f", "G": "ɡ", "HH": "h", "JH": "ʤ", "K": "k", "L": "l", "M": "m", "N": "n",
    "NG": "ŋ", "P": "p", "R": "ɹ", "S": "s", "SH": "ʃ", "T": "t", "TH": "θ", "V": "v", "W": "w",
    "Y": "j", "Z": "z", "ZH": "ʒ",
}  # fmt: skip
_BRITISH: Final = {
    "A:": "ɑː", "A@": "ɑː", "0": "ɒ", "O:": "ɔː", "O@": "ɔː", "oU": "Q", "i:": "iː", "u:": "uː",
    "3:": "ɜː", "e@": "ɛː", "i@": "ɪə", "U@": "ʊə", "3": "ə", "aI@": "Iə", "aI3": "Iə",
    "aU@": "Wə", "i@3": "ɪə", "a": "a", "aa": "a",
}  # fmt: skip
VOWELS: Final = frozenset(
    ("AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW")
)
"""Of ARPAbet."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One phoneme.

    name: as eSpeak writes it, without stress; phones: the same in ARPAbet; stress: "", "ˌ" or "ˈ";
    starts: whether a word begins with it.
    """

    name: str
    phones: tuple[str, ...]
    stress: str
    starts: bool


def units(mnemonics: str) -> tuple[Unit, ...] | None:
    """What Espeak.phonemes told; None where a name has no phone."""
    found: list[Unit] = []
    for word in mnemonics.split():
        starts = True
        for mnemonic in word.split("_"):
            stress = "ˈ" if mnemonic.startswith("'") else "ˌ" if mnemonic.startswith(",") else ""
            name = _BEFORE.sub("", mnemonic)
            name = name if name in _KNOWN else _AFTER.sub("", name)
            if not name:
                continue
            phones = tuple(_KNOWN.get(name, "").split())
            if not phones:
                return None
            if phones == ("R",) and found and found[-1].phones[-1] in ("R", "ER") and not starts:
                continue  # "hurry" comes as 3: r: the R is in the ER already
            found.append(Unit(name, phones, stress, starts))
            starts = False
    return tuple(found)


def phones_of(said: tuple[Unit, ...]) -> tuple[str, ...]:
    """All phones in order."""
    return tuple(phone for unit in said for phone in unit.phones)


def by_word(said: tuple[Unit, ...]) -> list[tuple[Unit, ...]]:
    """The units of each word."""
    found: list[list[Unit]] = []
    for unit in said:
        if unit.starts or not found:
            found.append([])
        found[-1].append(unit)
    return [tuple(word) for word in found]


def letters(said: tuple[Unit, ...], *, british: bool) -> str:
    """Kokoro's letters, stress marks before their vowels and blanks between words."""
    text = ""
    for unit in said:
        if unit.starts and text:
            text += " "
        own = _BRITISH.get(unit.name) if british else None
        if own is None and unit.name in ("t#", "t2") and not british:
            own = "T" if unit.name == "t#" else "t"
        if own is None:
            own = "".join(_letter(phone, unit) for phone in unit.phones)
        text += unit.stress + own
    return text


def _letter(phone: str, unit: Unit) -> str:
    if phone == "AH":
        return "ʌ" if unit.name == "V" else "ə"
    if phone == "ER":
        return "əɹ" if unit.name == "3" and not unit.stress else "ɜɹ"
    return _LETTERS[phone]


def bracketed(said: tuple[Unit, ...]) -> str:
    """Text that eSpeak NG reads as these phonemes."""
    text = ""
    for unit in said:
        mark = {"ˈ": "'", "ˌ": ",", "": ""}[unit.stress]
        text += (" " if unit.starts and text else "") + mark + unit.name
    return f"[[{text}]]"
