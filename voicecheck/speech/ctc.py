"""How well a phrase explains a run of phone posteriors: connectionist temporal classification.

A listener that writes phones gives, for each frame, a logarithm of probability for every phone and
for "nothing new" (the blank). The probability of a phrase is the sum over all ways to spread its
phones over the frames (Graves and others, 2006). Any phrase can be scored, so a new checklist needs
no new listener. All logarithms are natural.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.speech.confusion import NOTHING, PHONES

SPOKEN: Final = tuple(phone for phone in PHONES if phone != NOTHING)
"""The phones a listener can write, in the order of its outputs after the blank."""
BLANK: Final = 0
CLASSES: Final = len(SPOKEN) + 1
NUMBERS: Final = {phone: number for number, phone in enumerate(SPOKEN, start=1)}
"""Phone -> its output."""
_NEVER: Final = -1e30
_LEAST: Final = 1e-300
_NOWHERE: Final = -1
"""Label of the places behind the end of a shorter phrase."""

Way = tuple[int, ...]
"""One pronunciation of a phrase, as outputs."""
Floats = NDArray[np.float64]


class Forward:
    """Scores of several phrases while the frames come in; in which pieces, changes nothing.

    Probabilities are kept as such, each phrase's largest as 1 and the scale beside it: what lies
    some 700 nats under that is lost, and would never be acted on.
    """

    def __init__(self, ways: Sequence[Way]) -> None:
        """ways: at least one, none of them empty."""
        if not ways or not all(ways):
            raise ValueError("a phrase without phones cannot be scored")
        self._lengths = np.array([len(way) for way in ways])
        states = 2 * int(self._lengths.max()) + 1
        self._labels = np.full((len(ways), states), _NOWHERE)
        for row, way in enumerate(ways):
            self._labels[row, : 2 * len(way) + 1] = BLANK
            self._labels[row, 1 : 2 * len(way) : 2] = way
        phone = (self._labels != BLANK) & (self._labels != _NOWHERE)
        self._skip = phone[:, 2:] & (self._labels[:, 2:] != self._labels[:, :-2])
        self._alpha: Floats | None = None
        self._scale = np.zeros(len(ways))

    def feed(self, frames: Floats) -> None:
        """frames: (time, CLASSES) logarithms of probability."""
        # The last class stands for NOWHERE: impossible.
        likely = np.pad(np.exp(frames), ((0, 0), (0, 1)))
        for frame in likely:
            seen = frame[self._labels]
            if self._alpha is None:
                here = seen
                here[:, 2:] = 0.0
            else:
                before = self._alpha
                here = before.copy()
                here[:, 1:] += before[:, :-1]
                here[:, 2:] += before[:, :-2] * self._skip
                here *= seen
            largest = np.maximum(here.max(1), _LEAST)
            self._alpha = here / largest[:, None]
            self._scale += np.log(largest)

    def totals(self) -> Floats:
        """Ln P(phrase | frames so far), one for each way."""
        if self._alpha is None:
            return np.full(self._lengths.shape, _NEVER)
        rows = np.arange(self._lengths.size)
        ends = self._alpha[rows, 2 * self._lengths] + self._alpha[rows, 2 * self._lengths - 1]
        with np.errstate(divide="ignore"):
            return np.asarray(np.maximum(np.log(ends) + self._scale, _NEVER))


def totals(frames: Floats, ways: Sequence[Way]) -> Floats:
    """Ln P of each way, all frames at once."""
    forward = Forward(ways)
    forward.feed(frames)
    return forward.totals()


@dataclass(frozen=True, slots=True)
class Alignment:
    """The likeliest spread of a way over the frames.

    phones: sum of the frames' values under each phone; spans: first and last frame of each.
    """

    phones: Floats
    spans: NDArray[np.int64]


def align(frames: Floats, way: Way) -> Alignment:
    """frames: (time, CLASSES); blanks count for the phone before them, or the first.

    Raises ValueError where there are fewer frames than the way needs.
    """
    labels = np.full(2 * len(way) + 1, BLANK)
    labels[1::2] = way
    seen = frames[:, labels]
    skip = np.full(labels.shape, _NEVER)
    skip[2:] = np.where((labels[2:] != BLANK) & (labels[2:] != labels[:-2]), 0.0, _NEVER)
    alpha = np.full(labels.shape, _NEVER)
    alpha[:2] = seen[0, :2]
    back = np.zeros(seen.shape, np.int8)
    for at in range(1, len(seen)):
        choices = np.full((3, labels.size), _NEVER)
        choices[0] = alpha
        choices[1, 1:] = alpha[:-1]
        choices[2, 2:] = alpha[:-2] + skip[2:]
        back[at] = choices.argmax(0)
        alpha = choices.max(0) + seen[at]
    state = labels.size - 1 if alpha[-1] >= alpha[-2] else labels.size - 2
    if alpha[state] <= _NEVER / 2:
        raise ValueError(f"{len(frames)} frames cannot hold {len(way)} phones")
    path = np.zeros(len(seen), np.int64)
    for at in range(len(seen) - 1, -1, -1):
        path[at] = state
        state -= int(back[at, state])
    values, spans = np.zeros(len(way)), np.zeros((len(way), 2), np.int64)
    np.add.at(values, np.clip((path - 1) // 2, 0, len(way) - 1), seen[np.arange(len(seen)), path])
    for phone in range(len(way)):
        under = np.flatnonzero(path == 2 * phone + 1)
        spans[phone] = under[0], under[-1]
    return Alignment(values, spans)


def written(frames: Floats) -> Way:
    """The phones of the likeliest frame by frame, repetitions and blanks taken out."""
    best = frames.argmax(1)
    changed = np.flatnonzero(np.diff(best, prepend=-1))
    return tuple(int(number) for number in best[changed] if number != BLANK)
