"""Looking on at a session of another process through its journal."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

from cockpit import Cockpit

from voicecheck.display.board import Board
from voicecheck.session.follow import follow, newest_live


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 10
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_what_is_followed_is_what_the_session_itself_shows(tmp_path: Path) -> None:
    own, looking = Board(), Board()
    cockpit = Cockpit(tmp_path, screen=own)
    stop = threading.Event()
    thread = threading.Thread(target=follow, args=(tmp_path, looking, stop))
    thread.start()
    try:
        for words in ("battery on", "affirm", "avionics on", "affirm", "going to gear"):
            cockpit.say(words)
        cockpit.say("two green")
        cockpit.say("nose gear dark")
        until(lambda: looking.picture()["state"] == own.picture()["state"])
        assert looking.picture()["heard"]["words"] == own.picture()["heard"]["words"]
        said = [line["text"] for line in own.picture()["lines"] if line["who"] == "voice"]
        assert [x["text"] for x in looking.picture()["lines"] if x["who"] == "voice"] == said
        assert looking.picture()["offers"] == [], "there is nothing to touch"
        cockpit.close()
        until(lambda: looking.picture()["state"]["phase"] == "finished")
    finally:
        stop.set()
        thread.join(5)
    assert not thread.is_alive()


def test_a_session_that_nobody_writes_is_not_live(tmp_path: Path) -> None:
    assert newest_live(tmp_path / "nothing") is None
    cockpit = Cockpit(tmp_path)
    assert newest_live(tmp_path) == cockpit.folder
    cockpit.writer.close()  # as after a crash: no summary, and no lock
    assert newest_live(tmp_path) is None


def test_a_session_that_breaks_off_is_told_and_the_next_one_is_followed(tmp_path: Path) -> None:
    board, stop = Board(), threading.Event()

    def seen() -> str:
        return (board.picture()["state"] or {}).get("registration", "")

    first = Cockpit(tmp_path)
    thread = threading.Thread(target=follow, args=(tmp_path, board, stop))
    thread.start()
    try:
        until(lambda: seen() == "ZZ-HJC")
        first.say("battery on")
        first.writer.close()  # as after a crash: no summary, and no lock
        until(lambda: "broke off" in (board.picture()["notice"] or ""))
        assert board.picture()["state"]["question"] is not None, "its last line was read"
        other = Cockpit(tmp_path, registration="ZZ-HJA")
        until(lambda: seen() == "ZZ-HJA")
        other.close()
    finally:
        stop.set()
        thread.join(5)


def test_a_journal_that_cannot_be_understood_is_told(tmp_path: Path) -> None:
    cockpit = Cockpit(tmp_path)
    journal = cockpit.folder / "journal.jsonl"
    with journal.open("ab") as file:
        file.write(b'{"kind":"event","event":{"type":"levitated"}}\n')
    board, stop = Board(), threading.Event()
    thread = threading.Thread(target=follow, args=(tmp_path, board, stop))
    thread.start()
    until(lambda: "cannot be followed" in (board.picture()["notice"] or ""))
    stop.set()
    thread.join(5)
    cockpit.writer.close()
