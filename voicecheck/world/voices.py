"""The synthetic people who speak for a simulated crew."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.voice.cache import PromptCache
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
    disk, name = _disk(cache / "talkers"), _name(talker, words)
    sound = disk.read(name)
    if sound is None:
        sound = talker.say(words)
        disk.write(name, sound)
    return sound


@lru_cache
def _disk(folder: Path) -> PromptCache:
    return PromptCache(folder)


def _name(talker: Talker, words: str) -> str:
    """Changes with whatever the sound depends on, the installed program included."""
    where = talker.program
    found = Path(where).stat() if where is not None else None
    program = (found.st_size, found.st_mtime_ns) if found is not None else None
    text = repr((talker, words, program, RATE, LEVEL_DBFS))
    return hashlib.sha256(text.encode()).hexdigest()
