"""Ctrl-C in the middle of a decision or of a line of the record waits until that is done."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from cockpit import SILENCE, Cockpit

from voicecheck.audio.source import Item
from voicecheck.engine import events
from voicecheck.journal.reader import verify
from voicecheck.session.interrupting import held_back
from voicecheck.session.run import conduct, drain


def ctrl_c() -> None:
    os.kill(os.getpid(), signal.SIGINT)


class Endless:
    """Silence for ever: only Ctrl-C ends it."""

    name = "silence"

    def __init__(self, blocks: int, at: int = -1) -> None:
        self.count, self.at = blocks, at

    def blocks(self) -> Iterator[Item]:
        for n in range(self.count):
            if n == self.at:
                ctrl_c()
            yield SILENCE

    def stop(self) -> None:
        pass


def test_in_the_middle_of_a_line_it_waits_and_the_record_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cockpit = Cockpit(tmp_path)
    write = cockpit.writer.append
    pressed: list[int] = []

    def interrupted(*args: object, **kwargs: object) -> object:
        if not pressed:
            pressed.append(len(cockpit.lines()))
            ctrl_c()
        return write(*args, **kwargs)

    real = cockpit.conductor.take

    def take(item: Item) -> bool:
        if cockpit.conductor.now > 1.0 and not pressed:
            monkeypatch.setattr(cockpit.writer, "append", interrupted)
            cockpit.conductor.handle(events.Passed(cockpit.conductor.now))
        return real(item)

    monkeypatch.setattr(cockpit.conductor, "take", take)
    summary = conduct(cockpit.conductor, Endless(1000), live=True)
    cockpit.record.close()
    assert pressed
    assert summary["reason"] == "stopped at the keyboard"
    assert verify(cockpit.folder / "journal.jsonl").ok


def test_with_nothing_in_hand_it_ends_the_session_at_once(tmp_path: Path) -> None:
    cockpit = Cockpit(tmp_path)
    before = signal.getsignal(signal.SIGINT)
    summary = conduct(cockpit.conductor, Endless(1000, at=30), live=True)
    assert summary["reason"] == "stopped at the keyboard"
    assert cockpit.conductor.now == pytest.approx(30 * 0.02, abs=0.03)
    assert signal.getsignal(signal.SIGINT) is before


def test_after_the_end_it_cuts_the_last_prompts_short_and_nothing_else(tmp_path: Path) -> None:
    """The files of the session are written after its prompts; an impatient hand costs none."""
    cockpit = Cockpit(tmp_path)
    cockpit.conductor.end("the script ended")
    assert not cockpit.prompter.idle
    real, turns = cockpit.conductor.idle, []

    def idle(seconds: float) -> bool:
        turns.append(seconds)
        if len(turns) == 3:
            ctrl_c()
        return real(seconds)

    cockpit.conductor.idle = idle  # type: ignore[method-assign]
    before = signal.getsignal(signal.SIGINT)
    drain(cockpit.conductor, live=False)
    assert len(turns) == 3
    assert signal.getsignal(signal.SIGINT) is before
    assert cockpit.record.close() == b""


def test_a_background_job_goes_on_ignoring_it() -> None:
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with held_back():
            ctrl_c()
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def test_another_thread_leaves_the_signal_alone() -> None:
    before = signal.getsignal(signal.SIGINT)
    seen: list[object] = []

    def work() -> None:
        with held_back() as interrupts:
            seen.append(signal.getsignal(signal.SIGINT))
            with interrupts.in_hand():
                seen.append(interrupts.busy)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == [before, True]
