"""The likeliest row of several callouts in one breath, by the listener that writes phones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.speech.ctc import BLANK, Floats, Way

_NEVER: Final = -1e30


@dataclass(frozen=True, slots=True)
class Piece:
    """Something that may stand in a row. first: it may begin one; last: it may end one."""

    text: str
    way: Way
    first: bool
    last: bool


class Rows:
    """All rows of some pieces at once: each may follow each, a joiner between them or none.

    The likeliest path is searched (Viterbi, 1967), not the sum over all of them: which row it is
    matters here, and it is scored like any other phrase afterwards.
    """

    def __init__(self, pieces: Sequence[Piece]) -> None:
        """pieces: at least one, none without phones."""
        self._pieces = pieces
        labels: list[int] = []
        begins, ends = [], []
        for piece in pieces:
            begins.append(len(labels))
            labels += [BLANK, *(label for phone in piece.way for label in (phone, BLANK))]
            ends.append(len(labels) - 1)
        self._labels = np.array(labels)
        self._begins, self._ends = np.array(begins), np.array(ends)
        self._first = np.array([piece.first for piece in pieces])
        self._step = np.zeros(len(labels))
        self._step[self._begins] = _NEVER
        skips = np.zeros(len(labels), bool)
        skips[2:] = (self._labels[2:] != BLANK) & (self._labels[2:] != self._labels[:-2])
        skips[self._begins] = skips[self._begins + 1] = False
        self._skip = np.where(skips, 0.0, _NEVER)

    def best(self, frames: Floats) -> str:
        """The words of the likeliest sequence of pieces. frames: (time, classes) logarithms."""
        entered: list[NDArray[np.int64]] = []
        score, since = self._begun(frames[0])
        for at in range(1, len(frames)):
            score, since, ending = self._next(score, since, frames[at], at)
            entered.append(ending)
        return self._words(score, since, entered)

    def _begun(self, frame: Floats) -> tuple[Floats, NDArray[np.int64]]:
        score = np.full(len(self._labels), _NEVER)
        for begin in (self._begins, self._begins + 1):
            score[begin] = np.where(self._first, frame[self._labels[begin]], _NEVER)
        return score, np.zeros(len(self._labels), np.int64)

    def _next(
        self, score: Floats, since: NDArray[np.int64], frame: Floats, at: int
    ) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
        """One frame on; also the piece that ended best before it, and when that had begun."""
        done = np.maximum(score[self._ends], score[self._ends - 1])
        ended = int(done.argmax())
        which = self._ends[ended] if score[self._ends[ended]] >= done[ended] else None
        began = int(since[self._ends[ended] if which is not None else self._ends[ended] - 1])
        choices = np.full((3, score.size), _NEVER)
        choices[0] = score
        choices[1, 1:] = score[:-1] + self._step[1:]
        choices[2, 2:] = score[:-2] + self._skip[2:]
        came = choices.argmax(0)
        places = np.arange(score.size)
        fresh, old = choices[came, places], since[places - came]
        for begin in (self._begins, self._begins + 1):
            better = done[ended] > fresh[begin]
            fresh[begin] = np.where(better, done[ended], fresh[begin])
            old[begin] = np.where(better, at, old[begin])
        return fresh + frame[self._labels], old, np.array([ended, began])

    def _words(
        self, score: Floats, since: NDArray[np.int64], entered: list[NDArray[np.int64]]
    ) -> str:
        done = np.maximum(score[self._ends], score[self._ends - 1])
        last = np.array([piece.last for piece in self._pieces])
        piece = int(np.where(last, done, _NEVER).argmax())
        end = self._ends[piece]
        began = int(since[end] if score[end] >= score[end - 1] else since[end - 1])
        texts = [self._pieces[piece].text]
        while began > 0:
            piece, began = (int(number) for number in entered[began - 1])
            texts.append(self._pieces[piece].text)
        return " ".join(reversed(texts))
