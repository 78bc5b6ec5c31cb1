"""What a simulated aircraft sounds like: invented bells, horns and clackers.

A sound is heard for a moment when it begins, and is only shown after that: a horn that went on
would be all that the microphone hears.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.player import PromptPlayer
from voicecheck.audio.source import RATE
from voicecheck.checklist.resolved import Checklist

SECONDS: Final = 1.2
LEVEL: Final = 0.2
"""Peak of full scale: well below a voice that is close to its microphone."""


def kinds_of(checklist: Checklist) -> dict[str, str]:
    """What each sound of a checklist is like, by its name."""
    return {item.reports: item.sound for item in checklist.items if item.sound is not None}


def sound_named(name: str, kind: str | None) -> NDArray[np.int16]:
    """SECONDS of a sound, 16 kHz mono; another name is another pitch. kind: as in the checklist."""
    time = np.arange(int(SECONDS * RATE)) / RATE
    pitch = 300.0 + zlib.crc32(name.encode()) % 500
    if kind == "bell":
        shape = np.exp(-4.0 * (time % 0.3)) * np.sin(2 * np.pi * 2.4 * pitch * time)
    elif kind == "clacker":
        shape = np.exp(-90.0 * (time % 0.1)) * np.sin(2 * np.pi * 3.1 * pitch * time)
    else:
        shape = np.sign(np.sin(2 * np.pi * pitch * time)) * (time % 0.5 < 0.38)
    fade = np.minimum(1.0, np.minimum(time, SECONDS - time) / 0.01)
    return np.asarray(np.rint(shape * fade * LEVEL * 32767), np.int16)


class Horns:
    """Plays each sound as it begins, and falls silent when none is left."""

    def __init__(self, player: PromptPlayer, kinds: Mapping[str, str]) -> None:
        self._player = player
        self._kinds = kinds
        self._sounding: frozenset[str] = frozenset()

    def follow(self, sounds: tuple[str, ...]) -> None:
        """These sound now."""
        now = frozenset(sounds)
        if self._sounding - now:
            self._player.stop()
        for name in sorted(now - self._sounding):
            self._player.play(sound_named(name, self._kinds.get(name)))
        self._sounding = now

    def close(self) -> None:
        """Let go of the loudspeaker."""
        self._player.close()
