"""Ctrl-C at any moment: never in the middle of a decision or of a line of the record."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class Interrupts:
    """Whether Ctrl-C was pressed. While `busy`, it is only noted; else it interrupts at once."""

    def __init__(self) -> None:
        self.asked = False
        self.busy = False

    def interrupt(self, _signal: int, _frame: FrameType | None) -> None:
        """Handler of the signal. Raises KeyboardInterrupt when nothing is in hand."""
        self.asked = True
        if not self.busy:
            raise KeyboardInterrupt

    @contextmanager
    def in_hand(self) -> Iterator[None]:
        """What is done inside is finished first. Raises KeyboardInterrupt after it if asked."""
        self.busy = True
        try:
            yield
        finally:
            self.busy = False
        if self.asked:
            self.asked = False
            raise KeyboardInterrupt


@contextmanager
def held_back() -> Iterator[Interrupts]:
    """Take Ctrl-C over for as long as this lasts; only the main thread gets it at all."""
    interrupts = Interrupts()
    main = threading.current_thread() is threading.main_thread()
    before = signal.getsignal(signal.SIGINT)
    if not main or before is None or before is signal.SIG_IGN:  # a shell's background job
        yield interrupts
        return
    signal.signal(signal.SIGINT, interrupts.interrupt)
    try:
        yield interrupts
    finally:
        signal.signal(signal.SIGINT, before)
