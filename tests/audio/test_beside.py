"""A made voice on its own channel: whole, in order, and in its time."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from voicecheck.audio.beside import Beside
from voicecheck.audio.source import BLOCK, Block, Item, SourceLost


class Own:
    channels = 1
    name = "a microphone"

    def blocks(self) -> Iterator[Item]:
        for at in range(6):
            if at == 3:
                yield SourceLost("pulled out")
            yield Block(np.full(BLOCK if at < 5 else 100, at, np.int16))

    def stop(self) -> None:
        pass


def test_what_is_said_is_heard_once_and_beside_the_own_voice() -> None:
    beside = Beside(Own())  # type: ignore[arg-type]
    first, second = np.arange(1, 501, dtype=np.int16), np.full(200, 7, np.int16)
    pilot: list[np.ndarray] = []
    own: list[int] = []
    for at, item in enumerate(beside.blocks()):
        if isinstance(item, SourceLost):
            continue
        assert isinstance(item, Block)
        assert item.second is not None
        assert len(item.samples) == len(item.second)
        pilot.append(item.samples)
        own.append(int(item.second[0]))
        if at == 0:
            beside.say(first)
            beside.say(second)
    sound = np.concatenate(pilot)
    assert own == [0, 1, 2, 3, 4, 5]
    assert not sound[:BLOCK].any()
    assert np.array_equal(sound[BLOCK : BLOCK + 700], np.concatenate([first, second]))
    assert not sound[BLOCK + 700 :].any()
