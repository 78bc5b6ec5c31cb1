"""Keys from a terminal, or lines from a pipe, without holding up the session."""

from __future__ import annotations

import contextlib
import os
import queue
import select
import sys
import termios
import threading
import time
import tty
from typing import Any, Final, TextIO

from voicecheck.session.keyboard import LIST, TALK, Entry

_POLL_SECONDS: Final = 0.1
_ERASE: Final = ("\x7f", "\b")
_LONGEST: Final = 200


class TerminalKeys:
    """Reads `source` (standard input) in a thread of its own.

    At a terminal single keys count at once: the space bar is the talk key and "?" lists, unless
    words are being typed; Enter completes a number or words, Escape drops them. Elsewhere each
    line is an entry, and an empty one is the talk key.
    """

    def __init__(self, source: TextIO | None = None) -> None:
        stream = source or sys.stdin
        self._descriptor = stream.fileno()
        self._entries: queue.SimpleQueue[tuple[str, float]] = queue.SimpleQueue()
        self._typed = ""
        self._began = 0.0
        self._closing = threading.Event()
        self._kept: list[Any] | None = None
        if stream.isatty():
            self._kept = termios.tcgetattr(self._descriptor)
            tty.setcbreak(self._descriptor, termios.TCSANOW)
        self._thread = threading.Thread(target=self._read, name="keys", daemon=True)
        self._thread.start()

    def pending(self) -> list[Entry]:
        """Entries completed since the last call."""
        found = []
        with contextlib.suppress(queue.Empty):
            while True:
                text, began = self._entries.get_nowait()
                found.append(Entry(text, time.monotonic() - began))
        return found

    def close(self) -> None:
        """Leave the terminal as it was; safe twice."""
        self._closing.set()
        self._thread.join(1)
        if self._kept is not None:
            termios.tcsetattr(self._descriptor, termios.TCSADRAIN, self._kept)
            self._kept = None

    def _read(self) -> None:
        """Own thread: ends with the input or with `close`."""
        while not self._closing.is_set():
            try:
                ready, _, _ = select.select([self._descriptor], [], [], _POLL_SECONDS)
                found = os.read(self._descriptor, 1024) if ready else None
            except (OSError, ValueError):
                return
            if found == b"":
                return
            for sign in (found or b"").decode("utf-8", errors="ignore"):
                self._take(sign)

    def _take(self, sign: str) -> None:
        at_once = self._kept is not None and not self._typed
        if at_once and sign in (TALK, LIST):
            self._entries.put((sign, time.monotonic()))
        elif sign in "\r\n":
            self._enter()
        elif sign in _ERASE:
            self._drop(1)
        elif sign == "\x1b":
            self._drop(_LONGEST)
        elif sign.isprintable() and len(self._typed) < _LONGEST:
            self._began = self._began if self._typed else time.monotonic()
            self._typed += sign
            self._echo(sign)

    def _enter(self) -> None:
        # A line of a pipe was not typed sign by sign: it is as old as its end.
        began = self._began if self._kept is not None and self._typed else time.monotonic()
        self._entries.put((self._typed.strip() or TALK, began))
        self._typed = ""
        self._echo("\n")

    def _drop(self, signs: int) -> None:
        """Take back the last signs typed, as many as there are."""
        self._echo("\b \b" * min(signs, len(self._typed)))
        self._typed = self._typed[:-signs]

    def _echo(self, text: str) -> None:
        """Show what is typed: with single keys the terminal does not do it by itself."""
        if self._kept is not None and text:
            with contextlib.suppress(OSError):
                os.write(self._descriptor, text.encode())
