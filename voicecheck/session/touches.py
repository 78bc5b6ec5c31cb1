"""Callouts entered on a screen: how they wait for the session, and which come too late.

A hand is slower than a session. What it meant to answer may be gone when it lands, so each
press carries the marks of the picture that it was made on, and one that no longer fits is
refused, shown and recorded: never taken for something else.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

MOST: Final = 32
"""Presses that may wait; a hand that is faster than this is not a hand."""

_MOVING: Final = frozenset({"now"})
_GROUND: Final = ("phase", "visit", "position", "question")


@dataclass(frozen=True, slots=True)
class Marks:
    """Which picture a screen showed. change: of anything; ground: of what is being asked."""

    change: int
    ground: int


@dataclass(frozen=True, slots=True)
class Press:
    """A callout entered by hand at stream time `at`. by: "key" or "touch"."""

    callout: str
    by: str
    marks: Marks
    at: float


class Pictures:
    """Counts how often the picture changed."""

    def __init__(self) -> None:
        self._shown: Mapping[str, Any] = {}
        self.marks = Marks(0, 0)

    def mark(self, seen: Mapping[str, Any]) -> dict[str, Any]:
        """A glance with its marks."""
        still = {key: value for key, value in seen.items() if key not in _MOVING}
        marks = self.marks
        if still != self._shown:
            moved = _ground(still) != _ground(self._shown)
            self.marks = Marks(marks.change + 1, marks.ground + moved)
            self._shown = still
        return {**seen, "change": self.marks.change, "ground": self.marks.ground}

    def fits(self, press: Press) -> bool:
        """Whether the press still means what it meant.

        A callout about an item names it, so it only needs the question and the place to be the
        same; a command (yes, no, correction) means something else after any change.
        """
        if press.callout.startswith(("command:", "reason:")):
            return press.marks.change == self.marks.change
        return press.marks.ground == self.marks.ground


def _ground(seen: Mapping[str, Any]) -> tuple[Any, ...]:
    items = seen.get("items", ())
    asked = [(item["id"], item["which_dark"], item["read_back"]) for item in items]
    return (*(seen.get(key) for key in _GROUND), asked)


class Touches:
    """Presses on their way from the screens' threads to the session's; nobody waits.

    clock: stream time of this moment, set once the session has one.
    """

    def __init__(self) -> None:
        self.clock: Callable[[], float] | None = None
        self._waiting: deque[Press] = deque()
        self._lock = threading.Lock()
        self._stop: str | None = None

    def press(self, callout: str, by: str, marks: Marks) -> bool:
        """From any thread. False: no session takes it now, or too many wait."""
        with self._lock:
            if self.clock is None or len(self._waiting) >= MOST:
                return False
            self._waiting.append(Press(callout, by, marks, self.clock()))
            return True

    def due(self, now: float) -> list[Press]:
        """What was pressed up to stream time `now`, in order."""
        found: list[Press] = []
        with self._lock:
            while self._waiting and self._waiting[0].at <= now:
                found.append(self._waiting.popleft())
        return found

    def stop(self, reason: str) -> None:
        """The wish to end the session, from any thread."""
        self._stop = reason

    @property
    def stopping(self) -> str | None:
        """Why the session is to end, or None."""
        return self._stop

    def close(self) -> list[Press]:
        """Take no more; returns what came too late."""
        with self._lock:
            self.clock = None
            left = list(self._waiting)
            self._waiting.clear()
        return left
