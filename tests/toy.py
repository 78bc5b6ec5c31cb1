"""A session in an invented language: nobody's words but those of tests/toy-language."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.source import RATE, Block
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.display import telling
from voicecheck.display.board import Board
from voicecheck.display.console import ConsoleDisplay
from voicecheck.engine import Engine, events
from voicecheck.engine.effects import Priority
from voicecheck.journal.writer import JournalWriter
from voicecheck.logbook.spool import expect
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Quiet, Several
from voicecheck.session.equipment import Equipment
from voicecheck.session.options import RunOptions
from voicecheck.session.prompter import Prompter
from voicecheck.session.record import Record
from voicecheck.session.result import full_summary
from voicecheck.session.run import header_of
from voicecheck.session.touches import Marks, Press
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.words import say, speaking

TOY = Path(__file__).parent / "toy-language"
GRAMMAR = TOY / "grammars" / "zul"
TYPE, REGISTRATION = TOY / "checklists" / "varn-7.yaml", "ZZ-QXV"


def toy() -> Loaded:
    """The toy's one checklist."""
    return load_checklist(
        str(TYPE), REGISTRATION, shipped=checklists_dir(), grammars=grammars_dir()
    )


class Eye(Quiet):
    """Everything that a crew hears and sees, as text."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.texts: list[str] = []
        self.pictures: list[dict[str, Any]] = []

    def said(self, at: float, text: str, priority: Priority) -> None:
        self.texts.append(text)

    def notice(self, text: str) -> None:
        self.texts.append(text)

    def look(self) -> None:
        """What the screens show now."""
        picture = self.board.picture()
        self.pictures.append(picture)
        now = float(picture["now"])
        self.texts += [
            telling.head(picture).plain,
            telling.cockpit(picture).plain,
            telling.here(picture).plain,
            telling.side(picture, now, -20.0, speaking=True).plain,
            telling.calls(picture, "").plain,
        ]


class ToySession:
    """A session by keys and touch; `heard` is everything that was shown, as text."""

    def __init__(
        self, log: Path, started: datetime, *, second: bool = True, board: Board | None = None
    ) -> None:
        loaded = toy()
        self.words = loaded.language.words
        options = RunOptions(str(TYPE), REGISTRATION, log, pilot="Qo", second="Vy", temperature_c=4)
        header = header_of(options, loaded, "xqz", (), started)
        self.folder = log / header["session"]
        self.folder.mkdir(parents=True)
        expect(log, header["session"])
        self.board = board or Board()
        self.eye = Eye(self.board)
        self.lines = io.StringIO()
        console = ConsoleDisplay(Console(file=self.lines, width=200), verbose=True)
        display = Several(self.board, console, self.eye)
        self.record = Record(JournalWriter.create(self.folder, header), started, display.notice)
        self.conductor: Conductor | None = None
        self._second = second
        player = SilentPlayer(lambda: self.conductor.now if self.conductor else 0.0)
        with speaking(self.words):
            display.speaks(self.words)
            self.conductor = Conductor(
                Engine(loaded.checklist),
                Equipment(loaded.language, Prompter(player, None, 165), keys=True),
                self.record,
                display,
                lambda summary, ignored: full_summary(
                    header, summary, ignored, loaded.checklist.type
                ),
            )
            self.board.cockpit(
                {
                    "buses": {"qarz": True, "vilz": False},
                    "lamps": [{"caption": "GRX Q", "colour": "green", "lit": True}],
                    "sounds": ["tʉndə"],
                    "felt": ["vørbə"],
                    "gauges": [],
                    "done": "",
                }
            )
            self.conductor.begin(second=second)
            self.eye.look()

    @property
    def at(self) -> Conductor:
        assert self.conductor is not None
        return self.conductor

    def wait(self, seconds: float) -> None:
        with speaking(self.words):
            for _ in range(int(seconds * 2)):
                if self.at.summary is None:
                    self.at.take(Block(np.zeros(RATE // 2, np.int16)))
            self.eye.look()

    def press(self, *callouts: str) -> None:
        """Each key that is a callout on offer, a moment after the one before."""
        for callout in callouts:
            self.wait(0.5)
            with speaking(self.words):
                self.at.handle(events.KeyPressed(callout, self.at.now))
                self.eye.look()

    def unclear(self, *guess: str) -> None:
        with speaking(self.words):
            self.at.handle(events.Unclear(self.at.now, self.at.now + 0.4, guess))
            self.eye.look()

    def typed(self, entry: str) -> None:
        with speaking(self.words):
            self.at.typed(entry)

    def late(self, callout: str) -> None:
        """A touch on a picture that has gone."""
        with speaking(self.words):
            self.at.press(Press(callout, "touch", Marks(-1, -1), self.at.now))

    def part(self, name: str, *, back: bool) -> None:
        with speaking(self.words):
            kind = events.Restored if back else events.Lost
            self.at.handle(kind(name, self.at.now))
            self.eye.look()

    def end(self) -> str:
        """Everything that was shown."""
        with speaking(self.words):
            if self.at.summary is None:
                self.at.end(say("ended-recording"))
            self.eye.look()
        self.record.close()
        return "\n".join([*self.eye.texts, self.lines.getvalue()])


def morning() -> datetime:
    return datetime(2026, 3, 1, 6, 15, tzinfo=UTC)


def everything(session: ToySession) -> None:
    """A crew that makes most of the mistakes that a crew can make."""
    press = session.press
    press("command:read-back", "power:qarz:on", "command:affirm", "command:correction")
    session.typed("9999")
    session.typed("?")
    session.typed(" ")
    press("power:qarz:off", "command:negative", "power:qarz:on", "command:affirm")
    press("select:zorb", "zorb.tund:bad", "zorb.tund:good", "command:affirm")
    press("zorb.tund:good", "zorb.tund-silence:good", "zorb.tund-returns:bad")
    press("zorb.grix:2", "zorb.grix:1", "zorb.grix:dark-0", "zorb.grix:2", "zorb.grix:2")
    press("command:affirm", "zorb.grix:2", "command:correction")
    session.unclear()
    session.unclear("zorb.grix:0")
    press("command:stand-by", "command:resume")
    session.late("zorb.grix:2")
    session.late("no such")
    press("select:plen", "plen.vorb:good", "plen.keld:bad-0", "power:vilz:on", "command:affirm")
    press("plen.vorb:good", "plen.onst:bad", "plen.parz-q:good", "plen.parz-v:bad")
    press("plen.keld:good", "command:negative", "power:vilz:off", "command:affirm")
    session.unclear("select:zorb")
    press("plen.vorb:bad", "command:negative")
    press("select:skel", "skel.dorv:good", "selector:off", "off.nul:bad")
    session.wait(6)
    press("skel.dorv-gon:good", "select:skel", "skel.dorv:good", "select:zorb")
    session.wait(14)
    press("skel.dorv-gon:bad", "select:skel", "skel.dorv:good", "select:zorb")
    session.part("microphone", back=False)
    session.part("microphone", back=True)
    session.part("voice", back=False)
    press("command:crew-change", "select:skel", "skel.dorv:good", "skel.dorv-gon:good")
    press("selector:off", "off.nul:good", "command:affirm")
    session.wait(150)
    press("command:complete", "command:negative", "command:abandon")
    press(next(k for k in session.board.picture()["offers"] if k["group"] == "reason")["callout"])
