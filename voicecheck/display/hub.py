"""Pictures to the viewers: each gets the newest one as fast as it can take it.

A viewer has no queue that could grow. It has the number of the picture it saw last; whatever
came since is made up for by the newest picture, which is always a whole one.
"""

from __future__ import annotations

import asyncio
import json
import threading
from typing import Any, Final, Protocol

from voicecheck.display.board import Board, Level
from voicecheck.words import Words

BEAT: Final = 1.0
"""Seconds after which a quiet session tells that it is still there."""
PATIENCE: Final = 10.0
"""Seconds after which a viewer that takes nothing is let go; it comes back by itself."""
MOST_VIEWERS: Final = 16


class Viewer(Protocol):
    """One end that takes text."""

    async def send_text(self, data: str) -> None:
        """Send; waits while the other end does not take it."""


class Hub:
    """All viewers of one board; lives in the event loop that calls `attach`."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._loop: asyncio.AbstractEventLoop | None = None
        self._bells: set[asyncio.Event] = set()
        self._rung = False
        self._lock = threading.Lock()
        self._cached: tuple[int, str] = (-1, "")
        self.closing = False
        board.listen(self._ring)

    def attach(self, loop: asyncio.AbstractEventLoop) -> None:
        """The loop that serves the viewers from now on."""
        self._loop = loop

    @property
    def words(self) -> Words:
        """The language of what is shown."""
        return self._board.words

    @property
    def viewers(self) -> int:
        """How many are being served."""
        return len(self._bells)

    async def serve(self, viewer: Viewer) -> None:
        """Show everything to one viewer until it fails, is too slow, or the hub closes."""
        bell = asyncio.Event()
        self._bells.add(bell)
        seen, level = -1, self._board.level
        words: Words | None = None
        try:
            while True:
                if self._board.seq != seen:
                    seen, text = self._picture()
                elif self._board.words is not words:
                    words = self._board.words
                    text = _text({"kind": "words", "texts": page_texts(words)})
                elif self._board.level is not level:
                    level = self._board.level
                    text = _level(level)
                else:
                    text = '{"kind":"beat"}'
                await asyncio.wait_for(viewer.send_text(text), PATIENCE)
                if self.closing and self._board.seq == seen:
                    return
                told = self._board.words is words
                if told and self._board.seq == seen and self._board.level is level:
                    bell.clear()
                    await _rung(bell, BEAT)
        finally:
            self._bells.discard(bell)

    def close(self) -> None:
        """Let every viewer see the last picture and go; from any thread."""
        self.closing = True
        self._ring()

    def _ring(self) -> None:
        """From the session's thread: at most one ring is on its way to the loop at a time."""
        with self._lock:
            if self._rung or self._loop is None:
                return
            self._rung = True
        try:
            self._loop.call_soon_threadsafe(self._all_bells)
        except RuntimeError:  # the loop is closed: nobody is looking any more
            self._loop = None

    def _all_bells(self) -> None:
        with self._lock:
            self._rung = False
        for bell in self._bells:
            bell.set()

    def _picture(self) -> tuple[int, str]:
        """The newest picture as text, written once for all viewers."""
        if self._cached[0] != self._board.seq:
            picture = self._board.picture()
            self._cached = (picture["seq"], _text(picture))
        return self._cached


_ALSO: Final = ("lang", "comma", "decimal", "on", "off", "bus-state")
"""What a page needs of the words for records and reports."""


def page_texts(words: Words) -> dict[str, str]:
    """What the scripts of the page may write into it."""
    parts = {key: text for key, text in words.record.items() if key.startswith("part-")}
    return {**words.page, **parts, **{key: words.text(key) for key in _ALSO}}


def _level(level: Level) -> str:
    return _text(
        {"kind": "level", "now": level.at, "level": level.level, "speaking": level.speaking}
    )


def _text(message: dict[str, Any]) -> str:
    return json.dumps(message, ensure_ascii=False, separators=(",", ":"))


async def _rung(bell: asyncio.Event, seconds: float) -> None:
    try:
        await asyncio.wait_for(bell.wait(), seconds)
    except TimeoutError:
        return
