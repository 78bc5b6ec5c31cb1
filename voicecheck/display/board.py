"""The picture that every screen shows: the last state and the last words, ready to be sent.

Written by the session's thread, read by any other. Nobody who reads can hold up who writes:
there is one picture, each change replaces it, and whoever is slow simply sees a later one.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from voicecheck.callouts import Callout
from voicecheck.display.keys import keys_for
from voicecheck.engine.effects import Priority
from voicecheck.words import Words, chosen

LINES: Final = 8
"""Words kept for the eye; the record keeps all."""


@dataclass(frozen=True, slots=True)
class Level:
    """The input at stream time `at`: peak in dBFS, and whether somebody is being listened to."""

    at: float
    level: float
    speaking: bool


class Board:
    """A display that keeps one picture.

    seq counts its changes; each is told to the listeners, which must return at once. Times in
    the picture are stream seconds, `sent` is the machine's clock in milliseconds.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._listeners: tuple[Callable[[], None], ...] = ()
        self._state: Mapping[str, Any] = {"phase": "starting"}
        self._offers: list[dict[str, str]] = []
        self._lines: deque[dict[str, Any]] = deque(maxlen=LINES)
        self._heard: dict[str, Any] | None = None
        self._notice: str | None = None
        self._changed = _milliseconds()
        self._review: str | None = None
        self._cockpit: Mapping[str, Any] | None = None
        self.words = chosen()
        self.seq = 0
        self.level = Level(0.0, -96.0, False)

    def speaks(self, words: Words) -> None:
        """The language of the session, in which everything round the picture is said."""

        def take() -> None:
            self.words = words

        self._change(take)

    def listen(self, listener: Callable[[], None]) -> None:
        """Call `listener` after every change, in the thread of the session."""
        with self._lock:
            self._listeners = (*self._listeners, listener)

    def picture(self) -> dict[str, Any]:
        """All that a screen shows, JSON-ready."""
        with self._lock:
            return {
                "kind": "picture",
                "seq": self.seq,
                "sent": self._changed,
                "caution": self.words("caution"),
                "state": self._state,
                "offers": self._offers,
                "lines": list(self._lines),
                "heard": self._heard,
                "notice": self._notice,
                "review": self._review,
                "cockpit": self._cockpit,
                "now": max(float(self._state.get("now", 0.0)), self.level.at),
            }

    def filed(self, session: str) -> None:
        """The session is over and can be reviewed on the same server."""

        def take() -> None:
            self._review = session

        self._change(take)

    def cockpit(self, panel: Mapping[str, Any]) -> None:
        """What a simulated aircraft shows, in a rehearsal: lamps, sounds, gauges, buses."""

        def take() -> None:
            self._cockpit = panel

        self._change(take)

    def heard(self, at: float, words: str, confidence: float) -> None:
        """The crew was understood."""
        self._hear(at, "heard", words)

    def pressed(self, at: float, words: str, by: str, refused: str | None) -> None:
        """A callout was entered by hand."""
        if refused is None:
            self._hear(at, "touched" if by == "touch" else "keyed", words)
        else:
            self._hear(at, "refused", words, refused)

    def not_understood(self, at: float, reason: str) -> None:
        """Somebody spoke to us and was not understood."""
        self._hear(at, "unclear", "", reason)

    def said(self, at: float, text: str, priority: Priority) -> None:
        """A prompt was given out."""
        line = {"at": at, "who": "voice", "text": text, "warning": priority is Priority.WARNING}
        self._change(lambda: self._lines.append(line))

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """The state tells what came of it."""

    def state(self, view: Mapping[str, object]) -> None:
        """The state after an event."""

        def take() -> None:
            self._state = view

        self._change(take)

    def offered(self, callouts: Sequence[Callout]) -> None:
        """What can be called from now on."""
        words = {callout.key: callout.phrases[0] for callout in callouts}
        found = [
            {"keys": keys, "callout": key, "words": words[key], "group": key.partition(":")[0]}
            for keys, key in keys_for(list(words)).items()
        ]

        def take() -> None:
            self._offers = found

        self._change(take)

    def sound(self, at: float, level: float, speaking: bool) -> None:
        """The input level: no change of the picture."""
        self.level = Level(at, level, speaking)
        for listener in self._listeners:
            listener()

    def notice(self, text: str) -> None:
        """Something about voicecheck itself."""

        def take() -> None:
            self._notice = text
            self._lines.append({"at": None, "who": "note", "text": text, "warning": False})

        self._change(take)

    def _hear(self, at: float, how: str, words: str, reason: str | None = None) -> None:
        heard = {"at": at, "how": how, "words": words, "reason": reason}

        def take() -> None:
            self._heard = heard
            self._lines.append(
                {"at": at, "who": how, "text": words or reason or "", "warning": False}
            )

        self._change(take)

    def _change(self, change: Callable[[], None]) -> None:
        with self._lock:
            change()
            self.seq += 1
            self._changed = _milliseconds()
            listeners = self._listeners
        for listener in listeners:
            listener()


def _milliseconds() -> float:
    return round(time.time() * 1000, 2)
