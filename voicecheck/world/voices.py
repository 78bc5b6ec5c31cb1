"""The synthetic people who speak for a simulated crew."""

from __future__ import annotations

import hashlib
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.world.acts import Utterance
from voicecheck.world.synthesis import LEVEL_DBFS, Talker

VOICES: Final = (
    Talker("flite", "slt"),
    Talker("flite", "rms"),
    Talker("espeak-ng", "en-us", 0.9),
    Talker("espeak-ng", "en-gb+f4", 0.95),
    Talker("espeak-ng", "en-us+m5", 1.05),
    Talker("festival", "ked_diphone"),
)
"""People on whose voices no threshold was set."""
PASSENGER: Final = Talker("espeak-ng", "en-gb-scotland", 1.05)
"""Whoever else talks in the cockpit."""


@dataclass(frozen=True, slots=True)
class Voices:
    """Who speaks for the pilot and for the second. cache: where speech is kept."""

    talkers: tuple[Talker, ...]
    cache: Path

    def say(self, said: Utterance) -> NDArray[np.int16]:
        """Its words as 16 kHz mono; what is no callout is said by somebody else."""
        talker = self.talkers[said.who] if said.parts else PASSENGER
        return sound_of(talker, said.words, self.cache)


@lru_cache(maxsize=4096)
def sound_of(talker: Talker, words: str, cache: Path) -> NDArray[np.int16]:
    """The words as 16 kHz mono, made once and kept below the folder `cache`.

    Raises VoicecheckError without the talker's program.
    """
    path = cache / "talkers" / f"{_name(talker, words)}.npy"
    kept = _read(path)
    if kept is not None:
        return kept
    sound = talker.say(words)
    _write(path, sound)
    return sound


def _name(talker: Talker, words: str) -> str:
    """Changes with whatever the sound depends on, the installed program included."""
    where = talker.program
    found = Path(where).stat() if where is not None else None
    program = (found.st_size, found.st_mtime_ns) if found is not None else None
    text = repr((talker, words, program, RATE, LEVEL_DBFS))
    return hashlib.sha256(text.encode()).hexdigest()


def _read(path: Path) -> NDArray[np.int16] | None:
    try:
        sound = np.load(path, allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None  # not there, or not whole: made again
    whole = isinstance(sound, np.ndarray) and sound.dtype == np.int16 and sound.ndim == 1
    return sound if whole else None


def _write(path: Path, sound: NDArray[np.int16]) -> None:
    """Whole or not at all: several processes may make the same."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as file:
            np.save(file, sound)
        Path(file.name).replace(path)
    except OSError:
        return  # a full disk only makes the next session slower
