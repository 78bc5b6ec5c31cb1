"""eSpeak NG as a library: the phonemes it would say, and the sound of them.

The library comes in a package (espeakng-loader) with its data, so that phonemes and sound are the
same wherever they are made.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

_SYNCHRONOUS: Final = 2
_DONT_EXIT: Final = 0x8000
_UTF8: Final = 1
_PHONEMES: Final = 0x100
"""espeakPHONEMES: [[...]] in the text is phoneme mnemonics (speak_lib.h)."""
_SEPARATED: Final = ord("_") << 8
_IPA: Final = 0x02
_RATE, _PITCH, _RANGE = 1, 3, 4
"""espeak_PARAMETER (speak_lib.h)."""
_CALLBACK: Final = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
)


class Espeak:
    """One library in one process; not for two threads."""

    def __init__(self, folder: Path) -> None:
        """folder: holds libespeak-ng.so and espeak-ng-data. Raises OSError without them."""
        library: Any = ctypes.CDLL(str(folder / "libespeak-ng.so"))
        library.espeak_TextToPhonemes.restype = ctypes.c_char_p
        library.espeak_TextToPhonemes.argtypes = [
            ctypes.POINTER(ctypes.c_char_p),
            ctypes.c_int,
            ctypes.c_int,
        ]
        self._pieces: list[NDArray[np.int16]] = []
        self._callback = _CALLBACK(self._take)
        self.rate = int(
            library.espeak_Initialize(_SYNCHRONOUS, 0, str(folder).encode(), _DONT_EXIT)
        )
        if self.rate <= 0:
            raise OSError(f"{folder}: no eSpeak NG data there")
        library.espeak_SetSynthCallback(self._callback)
        self._library = library
        self._voice: str | None = None

    def _take(self, sound: Any, count: int, _events: Any) -> int:
        if sound and count > 0:
            self._pieces.append(np.ctypeslib.as_array(sound, shape=(count,)).copy())
        return 0

    def speak_as(self, voice: str) -> None:
        """voice: accent, or accent+variant. Raises ValueError for an accent that is not there."""
        if voice != self._voice:
            if self._library.espeak_SetVoiceByName(voice.encode()):
                raise ValueError(f"eSpeak NG has no voice {voice}")
            self._voice = voice

    def phonemes(self, text: str, *, ipa: bool = False) -> str:
        """Mnemonics with '_' between, and blanks between words (some are said as one).

        ipa: in the International Phonetic Alphabet instead, with nothing between.
        """
        mode = _IPA if ipa else _SEPARATED
        buffer = ctypes.create_string_buffer(text.encode() + bytes(8))
        place = ctypes.c_char_p(ctypes.addressof(buffer))
        told: list[str] = []
        while place:
            clause = self._library.espeak_TextToPhonemes(ctypes.byref(place), _UTF8, mode)
            if clause:
                told.append(clause.decode())
        return " ".join(told)

    def say(
        self, text: str, pace: int = 170, pitch: int | None = None, span: int | None = None
    ) -> NDArray[np.int16]:
        """Sound at `rate`. pace: words a minute; pitch and span (how lively): 0 to 100.

        Mnemonics stand in double brackets in the text.
        """
        settings = (_RATE, pace), (_PITCH, 50 if pitch is None else pitch)
        for parameter, value in (*settings, (_RANGE, 50 if span is None else span)):
            self._library.espeak_SetParameter(parameter, value, 0)
        self._pieces.clear()
        spoken = text.encode() + b"\0"
        self._library.espeak_Synth(spoken, len(spoken), 0, 1, 0, _UTF8 | _PHONEMES, None, None)
        self._library.espeak_Synchronize()
        return np.concatenate(self._pieces) if self._pieces else np.zeros(0, np.int16)
