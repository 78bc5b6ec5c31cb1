"""Looking on at a session of another process: its journal decided again, line by line.

Only a journal that its writer holds open is live; one that a crash left behind is not shown as
if somebody were in it.
"""

from __future__ import annotations

import fcntl
import json
import re
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any, BinaryIO, Final

from voicecheck.checklist.recorded import recorded_checklist
from voicecheck.engine import Engine, effects
from voicecheck.engine.effects import Priority
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL, Kind
from voicecheck.journal.header import SESSION_ID
from voicecheck.journal.reader import open_plain
from voicecheck.session.codec import event_from_json
from voicecheck.session.display import Display
from voicecheck.session.glance import glance
from voicecheck.session.touches import Pictures
from voicecheck.words import recorded, say

EVERY: Final = 0.1
"""Seconds between looks at the journal."""


def follow(log: Path, display: Display, stop: threading.Event) -> None:
    """Show the newest live session of `log`, one after another, until `stop`."""
    seen: Path | None = None
    while not stop.is_set():
        newest = newest_live(log)
        if newest is not None and newest != seen:
            seen = newest
            try:
                if not _one(newest, display, stop) and not stop.is_set():
                    seen = None  # followed again once somebody resumes it
                    display.notice(say("notice-broke-off", session=newest.name))
            except (VoicecheckError, ValueError, KeyError, TypeError, OSError) as error:
                display.notice(say("notice-not-followed", session=newest.name, why=error))
        stop.wait(EVERY * 5)


def newest_live(log: Path) -> Path | None:
    """The folder of the newest session that is being written at this moment."""
    try:
        folders = [path for path in log.iterdir() if re.fullmatch(SESSION_ID, path.name)]
    except OSError:
        return None
    for folder in sorted(folders, key=lambda path: path.name, reverse=True)[:3]:
        if _being_written(folder / JOURNAL):
            return folder
    return None


def _being_written(path: Path) -> bool:
    try:
        with open_plain(path) as file:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except (OSError, VoicecheckError):
        return False
    return False


def _one(folder: Path, display: Display, stop: threading.Event) -> bool:
    """Show one session; True when it has ended, False when its writer is gone before that."""
    path = folder / JOURNAL
    with open_plain(path) as file:
        header = _line(file, path, stop)
        if header is None:
            return False
        mirror = Mirror(header, display)
        while (line := _line(file, path, stop)) is not None:
            if mirror.take(line):
                return True
    return False


def _line(file: BinaryIO, path: Path, stop: threading.Event) -> dict[str, Any] | None:
    """The next whole line, waited for; None once `stop` is set or nobody writes any more."""
    begun = b""
    while not stop.is_set():
        live = _being_written(path)  # before the read: a writer's last line is still read
        begun += file.readline()
        if begun.endswith(b"\n"):
            found: dict[str, Any] = json.loads(begun)
            return found
        if not live:
            return None
        stop.wait(EVERY)
    return None


class Mirror:
    """An engine that decides a journal's events again, for the eye alone."""

    def __init__(self, header: Mapping[str, Any], display: Display) -> None:
        resolved = header["checklist"]["resolved"]
        self._engine = Engine(recorded_checklist(resolved))
        self._display = display
        display.speaks(recorded(resolved))
        self._pictures = Pictures()

    def take(self, line: Mapping[str, Any]) -> bool:
        """Show one line; True when it ends the session."""
        if line["kind"] == Kind.SUMMARY:
            return True
        if line["kind"] != Kind.EVENT:
            return False
        event = line["event"]
        if event["type"] == "heard":
            self._display.heard(event["start"], event["words"], event["confidence"])
        elif event["type"] == "unclear":
            self._display.not_understood(event["start"], say("notice-not-sure"))
        elif event["type"] == "keypressed":
            offer = self._engine.offers().get(event["callout"])
            words = event["callout"] if offer is None else offer.callout.phrases[0]
            self._display.pressed(event["at"], words, event.get("by", "key"), None)
        made = self._engine.handle(event_from_json(event))
        says = [effect for effect in made if isinstance(effect, effects.Say)]
        for prompt, text in zip(says, line["said"], strict=False):
            self._display.said(self._engine.state.now, text, Priority(prompt.priority))
        self._display.state(self._pictures.mark(glance(self._engine)))
        return False
