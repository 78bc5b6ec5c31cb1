"""A conductor on ZZ-HJC with an ear that hears a script, a silent player and a real journal."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from fleet import FLEET, loaded
from numpy.typing import NDArray

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.source import BLOCK, Block
from voicecheck.engine import Engine
from voicecheck.engine.effects import Priority
from voicecheck.journal.writer import JournalWriter
from voicecheck.rehearsal.script import Line
from voicecheck.rehearsal.scripted_ear import ScriptedEar
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Display, Quiet, Several
from voicecheck.session.equipment import Equipment
from voicecheck.session.options import RunOptions
from voicecheck.session.prompter import Prompter
from voicecheck.session.record import Record
from voicecheck.session.result import full_summary
from voicecheck.session.run import header_of
from voicecheck.session.shutter import Shutter

SILENCE = Block(np.zeros(BLOCK, np.int16))


class NoEcho:
    """Nothing of our own comes back."""

    def without(self, own: NDArray[np.int16], heard: NDArray[np.int16]) -> NDArray[np.int16]:
        return heard


class Notices(Quiet):
    """Keeps what a user would be told."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self.said_texts: list[str] = []

    def notice(self, text: str) -> None:
        self.texts.append(text)

    def said(self, at: float, text: str, priority: Priority) -> None:
        self.said_texts.append(text)


class Cockpit:
    """A conductor on ZZ-HJC with a scripted ear, a silent player and a real journal."""

    def __init__(
        self,
        folder: Path,
        engine: Engine | None = None,
        *,
        screen: Display | None = None,
        registration: str = "ZZ-HJC",
        second: bool = False,
        open_speaker: bool = False,
        started: datetime = datetime(2026, 11, 25, 6, 15, tzinfo=UTC),
    ) -> None:
        self.loaded = loaded(registration)
        self.display = Notices()
        options = RunOptions(FLEET[registration], registration, folder, pilot="Ada Núñez")
        self.header = header_of(options, self.loaded, "scripted", ("script",), started)
        self.folder = folder / self.header["session"]
        self.folder.mkdir(parents=True)
        self.writer = JournalWriter.create(self.folder, self.header)
        self.record = Record(self.writer, started, self.display.notice)
        self.ear = ScriptedEar(self.loaded)
        self.engine = engine or Engine(self.loaded.checklist)
        player = SilentPlayer(lambda: self.conductor_now())
        self.prompter = Prompter(player, None, 165)
        self.conductor = Conductor(
            self.engine,
            Equipment(
                self.loaded.language,
                self.prompter,
                [self.ear],
                Shutter(player, cancellers=[NoEcho()]) if open_speaker else Shutter(),
            ),
            self.record,
            self.display if screen is None else Several(self.display, screen),
            lambda summary, ignored: full_summary(
                self.header, summary, ignored, self.loaded.checklist.type
            ),
        )
        self.conductor.begin(second=second)

    def conductor_now(self) -> float:
        return self.conductor.now if hasattr(self, "conductor") else 0.0

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.02)):
            self.conductor.take(SILENCE)

    def quiet(self) -> None:
        """Wait until no prompt sounds and the room has fallen silent."""
        while not self.prompter.idle:
            self.wait(0.1)
        self.wait(1.0)

    def listen(self) -> None:
        """Let the question sound, then think a moment: a yes in it counts for nothing (rule 7)."""
        while not self.prompter.idle:
            self.wait(0.1)
        self.wait(0.6)

    def say(self, words: str, *, length: float = 0.8) -> None:
        if words == "affirm":
            self.listen()
        now = self.ear.now
        self.ear.hear(Line(who="pilot", say=words), now, now + length)
        self.wait(length + 0.6)

    def lines(self) -> list[dict[str, Any]]:
        text = (self.folder / "journal.jsonl").read_text(encoding="utf-8")
        return [json.loads(line) for line in text.splitlines()]

    def close(self) -> dict[str, Any]:
        summary = self.conductor.end("the script ended")
        self.record.close()
        return summary
