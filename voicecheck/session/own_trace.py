"""Whether what was left in the microphone's sound is still our own voice, by its likeness to it.

The echo canceller fails for a while when the way from loudspeaker to microphone changes. What it
leaves then is a prompt that came late and weakly, and correlates with the prompt that was played.
"""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.echo import likeness
from voicecheck.audio.source import BLOCK, RATE

OURS: Final = 0.3
"""Likeness (0 to 1) from which it is ours. Of 60 callouts of synthetic voices over prompts in a
room of -6 dB and 0.5 s reverberation, none was above 0.16 after cancelling; with the prompt not
cancelled all were above 0.4, whether anybody spoke or not."""
_LATEST: Final = 0.6
"""Seconds that our sound may take back to the microphone."""
_EARLY: Final = 0.1
_KEPT: Final = 12 * RATE // BLOCK
"""Blocks: more than the longest utterance and the time to decide it."""


class OwnTrace:
    """The latest seconds of one channel: our own sound, and what the canceller left."""

    def __init__(self) -> None:
        self._kept: deque[tuple[float, NDArray[np.int16], NDArray[np.int16]]] = deque(maxlen=_KEPT)

    def add(self, begin: float, own: NDArray[np.int16], left: NDArray[np.int16]) -> None:
        """The next block, from stream time `begin` on; both equally long."""
        self._kept.append((begin, own, left))

    def is_ours(self, start: float, end: float) -> bool:
        """Whether what was left between two stream times resembles what we said."""
        ours = [own for at, own, _ in self._kept if start - _LATEST <= at < end + _EARLY]
        left = [rest for at, _, rest in self._kept if start <= at < end]
        if not any(rest.any() for rest in left):
            return False
        found = likeness(_joined(ours), _joined(left))
        return float(found.max()) >= OURS


def _joined(parts: list[NDArray[np.int16]]) -> NDArray[np.float64]:
    return np.concatenate(parts).astype(np.float64)
