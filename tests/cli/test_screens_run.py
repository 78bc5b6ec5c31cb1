"""The screens as commands: on a terminal, with a page that stays, and without a session."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
import urllib.request
import wave
from collections.abc import Iterator
from pathlib import Path

import pytest

RUN = (sys.executable, "-m", "voicecheck")


@pytest.fixture
def silence(tmp_path: Path) -> Path:
    path = tmp_path / "silence.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
        file.writeframes(bytes(2 * 16_000 * 3))
    return path


def session(silence: Path) -> list[str]:
    return [
        *(
            *RUN,
            "run",
            "skerry-j2",
            "--airframe",
            "ZZ-HJC",
            "--from",
            str(silence),
            "--recorded-at",
            "2026-01-05",
            "--mute",
        ),
        *("--second-listener", "off", "--log", str(silence.parent / "log")),
    ]


def lines(process: subprocess.Popen[str], pattern: str) -> Iterator[str]:
    """What the pattern's group finds in the process's error output, line by line."""
    assert process.stderr is not None
    for line in process.stderr:
        if found := re.search(pattern, line):
            yield found[1]


def fetched(url: str) -> str:
    with urllib.request.urlopen(url, timeout=10) as answer:
        return str(answer.read().decode())


def test_a_session_on_a_terminal_ends_on_the_usual_screen(silence: Path) -> None:
    ours, theirs = pty.openpty()
    env = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"}
    process = subprocess.Popen(
        [*session(silence), "--screen"], stdin=theirs, stdout=theirs, stderr=theirs, env=env
    )
    os.close(theirs)
    shown = b""
    end = time.monotonic() + 120
    while time.monotonic() < end:
        if select.select([ours], [], [], 0.5)[0]:
            try:
                shown += os.read(ours, 65536)
            except OSError:  # the other end is closed
                break
        elif process.poll() is not None:
            break
    assert process.wait(30) == 3, shown.decode("utf-8", "replace")
    os.close(ours)
    whole, _, after = shown.decode("utf-8", "replace").rpartition("\x1b[?1049l")
    assert "\x1b[?1049h" in whole, "no whole-screen view"
    assert "Session ended" in whole, "the last picture was not painted"
    assert "incomplete: the recording ended" in after
    assert "Advisory only" in after


def test_a_page_that_stays_shows_the_review(silence: Path) -> None:
    process = subprocess.Popen(
        [*session(silence), "--json", "--kneeboard", "--stay", "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        url = next(lines(process, r"kneeboard page: (\S+)"))
        next(lines(process, r"(the page stays for review)"))
        [journal] = (silence.parent / "log").glob("*/journal.jsonl")  # the logbook lies beside it
        name = journal.parent.name
        assert "incomplete" in fetched(f"{url}review/{name}")
        assert "ZZ-HJC" in fetched(f"{url}card/skerry-j2/ZZ-HJC")
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 3
    finally:
        process.kill()
    assert process.stdout is not None
    assert json.loads(process.stdout.read())["session"] == name


def test_the_page_without_a_session_ends_at_ctrl_c(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [*RUN, "kneeboard", "--log", str(tmp_path / "log"), "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        url = next(lines(process, r"(http://\S+/)$"))
        assert "No session in this log yet" in fetched(f"{url}review")
        assert "Checklist cards" in fetched(f"{url}card")
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 0
    finally:
        process.kill()
