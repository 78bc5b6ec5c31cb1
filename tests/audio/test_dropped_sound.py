"""Sound that was lost on its way is told of where it is missing, each time, and keeps its length.

The sound card is made up here: what is tested is when and in what order things are told.
"""

from __future__ import annotations

import itertools
import threading
import time
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from voicecheck.audio import capture as room
from voicecheck.audio import microphone as microphone_room
from voicecheck.audio.devices import Device
from voicecheck.audio.microphone import Microphone
from voicecheck.audio.source import BLOCK, RATE, Block, Item, SoundDropped, SourceLost

DEVICE = Device(0, "made up", "none", 1, 0, RATE, True, False, True)


class Card:
    """Gives blocks when told to, as PortAudio's thread would."""

    def __init__(self) -> None:
        self.given = 0
        self.settings: dict[str, Any] = {}

    def open(self, kind: str, busy: object, **settings: Any) -> object:
        self.settings = settings
        return object()

    def give(self, count: int = 1, *, overflow: bool = False) -> None:
        for _ in range(count):
            self.given += 1
            block = np.full((BLOCK, 1), self.given, np.int16)
            self.settings["callback"](block, BLOCK, None, SimpleNamespace(input_overflow=overflow))


@pytest.fixture
def card(monkeypatch: pytest.MonkeyPatch) -> Card:
    card = Card()
    monkeypatch.setattr(room, "library", lambda: SimpleNamespace(PortAudioError=OSError))
    monkeypatch.setattr(room, "open_stream", card.open)
    monkeypatch.setattr(room, "close_stream", lambda _: None)
    monkeypatch.setattr(microphone_room, "find_microphone", lambda _: DEVICE)
    monkeypatch.setattr(microphone_room, "refresh", lambda: False)
    return card


def told(item: Item) -> object:
    return item if not isinstance(item, Block) else int(item.samples[0])


def test_it_is_told_where_it_is_missing_and_not_before_what_came_earlier(card: Card) -> None:
    blocks = Microphone().blocks()
    card.give(3)
    card.give(overflow=True)
    card.give()
    assert [told(item) for item in itertools.islice(blocks, 6)] == [1, 2, 3, SoundDropped(1), 4, 5]


def test_what_is_lost_while_an_earlier_loss_is_handled_is_told_too(card: Card) -> None:
    blocks = Microphone().blocks()
    card.give(overflow=True)
    assert next(blocks) == SoundDropped(1)
    card.give(overflow=True)  # the session still writes the first one down
    assert [told(item) for item in itertools.islice(blocks, 3)] == [1, SoundDropped(1), 2]


def test_a_loss_at_the_end_of_a_lost_microphone_keeps_its_length(
    card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "_HELD_SECONDS", 0.1)
    microphone = Microphone()
    blocks = microphone.blocks()
    card.give(50)  # of which the reader, who is busy, will get 5
    last = time.monotonic()
    card.settings["finished_callback"]()
    heard = [next(blocks) for _ in range(7)]
    assert [told(item) for item in heard[:6]] == [1, 2, 3, 4, 5, SoundDropped(1)]
    assert isinstance(heard[6], SourceLost)
    count = 5 * BLOCK
    threading.Timer(0.2, microphone.stop).start()
    count += sum(len(item) for item in blocks if isinstance(item, Block))
    assert count / RATE == pytest.approx(50 * BLOCK / RATE + time.monotonic() - last, abs=0.3)
