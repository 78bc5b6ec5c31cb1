"""Pronunciations of words that no dictionary has, by eSpeak NG's letter-to-sound rules.

The rules are in the library that also speaks the prompts, so nothing is downloaded. Its
phoneme names (of the voice ``en-us``; eSpeak NG, docs/phonemes.md) are turned into ARPAbet,
which is what the recogniser's model was trained with. They are a guess, and reported as one.
"""

from __future__ import annotations

import ctypes
import re
import threading
from functools import lru_cache
from typing import Any, Final

_LIBRARIES: Final = ("libespeak-ng.so.1", "libespeak-ng.1.dylib", "libespeak-ng.dll")
_RETRIEVAL: Final = 1
"""espeak_AUDIO_OUTPUT: hand sound back, play none (speak_lib.h)."""
_DONT_EXIT: Final = 0x8000
"""espeakINITIALIZE_DONT_EXIT: report missing data, do not end the process (speak_lib.h)."""
_UTF8: Final = 1
_SEPARATED: Final = ord("_") << 8
"""phonememode: mnemonics, with this character between phonemes (speak_lib.h)."""
_VOICES: Final = {"en": b"en-us"}
"""Language of a grammar folder -> voice whose phonemes ARPABET covers."""

ARPABET: Final[dict[str, str]] = {
    # vowels
    "a": "AE", "aa": "AE", "A:": "AA", "A@": "AA R", "A#": "AA", "0": "AA", "0#": "AH", "O": "AO",
    "O2": "AO", "O:": "AO", "O@": "AO R", "o@": "AO R", "oU": "OW", "V": "AH", "oU#": "OW",
    "@": "AH", "@2": "AH", "@-": "AH", "@5": "AH", "a#": "AH", "E#": "IH", "I": "IH", "I#": "IH",
    "I2": "IH", "i": "IY", "i:": "IY", "i@": "IY AH", "i@3": "IH R", "U": "UH", "u:": "UW",
    "U@": "UH R", "u": "UW", "E": "EH", "e": "EH", "e@": "EH R", "eI": "EY", "aI": "AY",
    "aI@": "AY AH", "aI3": "AY ER", "aU": "AW", "OI": "OY", "3": "ER", "3:": "ER", "@L": "AH L",
    "VR": "AH R", "IR": "IH R",
    # consonants
    "p": "P", "b": "B", "t": "T", "t#": "T", "t2": "T", "d": "D", "d#": "D", "k": "K", "g": "G",
    "tS": "CH", "dZ": "JH", "f": "F", "v": "V", "T": "TH", "D": "DH", "s": "S", "z": "Z",
    "S": "SH", "Z": "ZH", "h": "HH", "m": "M", "n": "N", "n-": "AH N", "N": "NG", "l": "L",
    "r": "R", "r-": "R", "w": "W", "w#": "W", "j": "Y", "x": "K", "?": "T", "l#": "L", "z#": "Z",
}  # fmt: skip
_ENGLISH: Final = re.compile(r"(?=.*[aeiouy])[a-z]+(?:'[a-z]+)?")
_MARKS: Final = re.compile(r"^[',%=|;:]+|[|;~]+$")
"""Stress, length and palatalisation, which ARPAbet without stress has no sign for."""


class LetterToSound:
    """Guesses of one language. Make it with letter_to_sound()."""

    def __init__(self, library: Any) -> None:
        self._library = library
        self._lock = threading.Lock()

    def __call__(self, word: str) -> str | None:
        """ARPAbet symbols with spaces between ("P AE R AH M IY T ER"), or None: no guess."""
        if not _ENGLISH.fullmatch(word):
            return None  # it would be spelled out, letter by letter
        with self._lock:
            text = ctypes.c_char_p(word.encode("utf-8"))
            told = self._library.espeak_TextToPhonemes(ctypes.byref(text), _UTF8, _SEPARATED)
        return arpabet(told.decode("utf-8")) if told else None


@lru_cache(maxsize=4)
def letter_to_sound(language: str) -> LetterToSound | None:
    """The guesser for a language; None where there is none, or eSpeak NG is not installed."""
    voice = _VOICES.get(language)
    if voice is None:
        return None
    for name in _LIBRARIES:
        try:
            library = ctypes.CDLL(name)
        except OSError:
            continue
        library.espeak_TextToPhonemes.restype = ctypes.c_char_p
        library.espeak_TextToPhonemes.argtypes = [
            ctypes.POINTER(ctypes.c_char_p),
            ctypes.c_int,
            ctypes.c_int,
        ]
        if library.espeak_Initialize(_RETRIEVAL, 0, None, _DONT_EXIT) <= 0:
            return None
        return LetterToSound(library) if library.espeak_SetVoiceByName(voice) == 0 else None
    return None


def arpabet(mnemonics: str) -> str | None:
    """The phonemes of eSpeak with '_' between as ARPAbet; None for one that is not known."""
    found: list[str] = []
    for mnemonic in re.split(r"[_\s]+", mnemonics):
        phone = mnemonic if mnemonic in ARPABET else _MARKS.sub("", mnemonic)
        if not phone:
            continue
        if phone not in ARPABET:
            return None
        symbols = ARPABET[phone].split()
        # "hurry" comes as 3: r: the R is in the ER already.
        if symbols == ["R"] and found and found[-1] in ("R", "ER"):
            continue
        found += symbols
    return " ".join(found) or None
