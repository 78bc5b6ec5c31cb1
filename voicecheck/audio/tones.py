"""Short tones that answer before words can: heard, not understood, warning.

They differ by pattern (how many, how long, rising or level), not by pitch alone, so that they are
told apart through a headset in noise and by crew with a hearing loss in the treble. Patterns,
pitch and level are this program's own choice:

    heard            one short pip
    not understood   two pips with a gap
    warning          three long beats in quick succession, each sliding up
"""

from __future__ import annotations

import enum
from functools import cache
from typing import Final

import numpy as np

from voicecheck.audio.source import RATE, Samples

_LEVEL: Final = 10 ** (-12 / 20)
"""Peak against full scale: below the prompts, which reach it."""
_FADE: Final = 0.005
"""Seconds of fade at both ends of a beat: without it there is a click."""


class Tone(enum.StrEnum):
    """What a tone tells."""

    HEARD = "heard"
    NOT_UNDERSTOOD = "not understood"
    WARNING = "warning"


_PATTERNS: Final[dict[Tone, tuple[tuple[float, float, float], ...]]] = {
    # (seconds, hertz at the beginning, hertz at the end); 0 hertz is a gap
    Tone.HEARD: ((0.06, 1000.0, 1000.0),),
    Tone.NOT_UNDERSTOOD: ((0.09, 600.0, 600.0), (0.09, 0.0, 0.0), (0.09, 600.0, 600.0)),
    Tone.WARNING: (
        (0.13, 700.0, 1100.0),
        (0.03, 0.0, 0.0),
        (0.13, 700.0, 1100.0),
        (0.03, 0.0, 0.0),
        (0.13, 700.0, 1100.0),
    ),
}


@cache
def tone(kind: Tone) -> Samples:
    """The samples of a tone: 1-D int16 at 16 kHz, not to be written to."""
    sound: Samples = np.concatenate([_beat(*beat) for beat in _PATTERNS[kind]])
    sound.setflags(write=False)
    return sound


def _beat(seconds: float, first: float, last: float) -> Samples:
    count = round(seconds * RATE)
    if not first:
        return np.zeros(count, np.int16)
    at = np.arange(count) / RATE
    phase = 2 * np.pi * (first * at + (last - first) * at * at / (2 * seconds))
    edge = np.minimum(1.0, np.minimum(at, at[::-1]) / _FADE)
    # A third harmonic carries through noise that covers the fundamental.
    wave = (np.sin(phase) + 0.3 * np.sin(3 * phase)) / 1.3
    samples: Samples = np.rint(wave * edge * _LEVEL * 32767).astype(np.int16)
    return samples
