"""Does what the loudspeaker plays come back through the microphone, and for how long?

A sweep is played and looked for in the microphone's sound by correlation, so that a crew that
talks meanwhile is not taken for an echo. Times are those of the microphone's stream, and the tail
counts from where the player believes its sound to end: all delays of sound cards are in it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.microphone import Microphone
from voicecheck.audio.player import Player
from voicecheck.audio.source import BLOCK, RATE, Block, Samples, SourceLost
from voicecheck.errors import VoicecheckError

SWEEP_SECONDS: Final = 1.0
_FROM_HERTZ: Final = 300.0
_TO_HERTZ: Final = 3_400.0
"""The telephone band (ITU-T G.712): what headsets, intercoms and small speakers all carry."""
_SWEEP_LEVEL: Final = 10 ** (-9 / 20)
_BEFORE: Final = 0.7
"""Seconds of the room alone."""
_AFTER: Final = 2.0
"""Seconds that an echo may take to come and to fade."""
_EARLY: Final = 0.1
LIKENESS: Final = 0.2
"""Correlation (0 to 1) from which the sweep was certainly heard. Noise and speech alone stay below
0.1 in the tests beside this; an echo 10 dB under the room's noise reaches 0.3."""
_FADED: Final = 10 ** (6 / 20)
"""Faded: within 6 dB of the room as it was before."""
MARGIN: Final = 0.1
"""Seconds added to what was measured; rooms are not the same twice."""


@dataclass(frozen=True, slots=True)
class Echo:
    """What came back of the sweep.

    likeness: best correlation, 0 to 1; above: dB of the echo over the room's own
    noise; delay: seconds from playing to its return; tail: seconds after the end of a prompt for
    which nothing must be heard, the margin included, 0 without an echo.
    """

    likeness: float
    above: float
    delay: float
    tail: float

    @property
    def heard(self) -> bool:
        """Whether our own sound comes back."""
        return self.likeness >= LIKENESS

    def in_words(self) -> str:
        """One line for the crew."""
        if not self.heard:
            return "headset: prompts do not come back through the microphone"
        return (
            f"speaker: prompts come back after {self.delay * 1000:.0f} ms, "
            f"{self.above:.0f} dB above the room; nothing is heard until "
            f"{self.tail:.2f} s after a prompt"
        )


def sweep() -> Samples:
    """The test sound: a second from 300 to 3400 Hz, faded in and out."""
    count = round(SWEEP_SECONDS * RATE)
    at = np.arange(count) / RATE
    ratio = math.log(_TO_HERTZ / _FROM_HERTZ)
    phase = _FROM_HERTZ * SWEEP_SECONDS / ratio * (np.exp(at / SWEEP_SECONDS * ratio) - 1)
    fade = np.minimum(1.0, np.minimum(at, at[::-1]) / 0.02)
    sound: Samples = np.rint(np.sin(2 * np.pi * phase) * fade * _SWEEP_LEVEL * 32767).astype(
        np.int16
    )
    return sound


def measure_echo(microphone: Microphone, player: Player) -> Echo:
    """Play the sweep and listen. The player must run on the microphone's clock.

    Takes about 4 s. Raises VoicecheckError if the microphone or the loudspeaker goes away.
    """
    sent = sweep()
    parts: list[Samples] = []
    playback = None
    heard = 0
    for samples in _heard(microphone, player):
        parts.append(samples)
        heard += len(samples)
        if playback is None and heard >= _BEFORE * RATE:
            playback = player.play(sent)
        ended = playback is not None and playback.wait(0) and playback.end
        if ended and heard >= (ended + _AFTER) * RATE:
            break
    if playback is None or playback.start is None or playback.end is None:
        raise VoicecheckError("the microphone was closed during the test; try again")
    return examine(np.concatenate(parts), sent, playback.start, playback.end)


def _heard(microphone: Microphone, player: Player) -> Iterator[Samples]:
    """What the microphone hears. Raises VoicecheckError if one of the two goes away."""
    limit = time.monotonic() + 30
    for item in microphone.blocks():
        if isinstance(item, SourceLost):
            raise VoicecheckError(f"{item.reason}; check its plug and try again")
        if player.lost or time.monotonic() > limit:
            raise VoicecheckError("the loudspeaker does not play; check its plug and try again")
        if isinstance(item, Block):
            yield item.samples


def examine(heard: Samples, sent: Samples, start: float, end: float) -> Echo:
    """Look for `sent`, played from `start` to `end` in seconds, in `heard` from time 0."""
    first = max(0, round((start - _EARLY) * RATE))
    match = likeness(heard[first:].astype(np.float64), sent.astype(np.float64))
    best = int(np.argmax(match))
    best_match = float(match[best])
    room = _rms(heard[: max(BLOCK, first)])
    echo = _rms(heard[first + best : first + best + len(sent)])
    above = 20 * math.log10(max(echo, 1.0) / max(room, 1.0))
    delay = (first + best) / RATE - start
    if best_match < LIKENESS:
        return Echo(best_match, above, 0.0, 0.0)
    faded = _last_loud(heard, max(room, 1.0) * _FADED, first + best)
    tail = max(0.0, faded - end, delay) + MARGIN
    return Echo(best_match, above, delay, round(tail, 2))


def likeness(heard: NDArray[np.float64], sent: NDArray[np.float64]) -> NDArray[np.float64]:
    """Correlation, 0 to 1, at every offset at which all of `sent` could be there."""
    count = max(1, len(heard) - len(sent) + 1)
    size = 1 << (len(heard) + len(sent)).bit_length()
    spectrum = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(sent, size))
    product = np.fft.irfft(spectrum, size)[:count]
    sums = np.concatenate([[0.0], np.cumsum(heard * heard)])
    energy = sums[len(sent) :][:count] - sums[: len(sums) - len(sent)][:count]
    # One step of a 16-bit sample in every place: silence must not be divided by.
    whole = np.sqrt(np.maximum(energy, len(sent)) * float(sent @ sent))
    found: NDArray[np.float64] = np.abs(product) / whole
    return found


def _last_loud(heard: Samples, limit: float, since: int) -> float:
    """Time in seconds at which the last frame above the limit ends."""
    last = since
    for begin in range(since, len(heard) - BLOCK + 1, BLOCK):
        if _rms(heard[begin : begin + BLOCK]) > limit:
            last = begin + BLOCK
    return last / RATE


def _rms(sound: Samples) -> float:
    return float(np.sqrt(np.mean(sound.astype(np.float64) ** 2))) if len(sound) else 0.0
