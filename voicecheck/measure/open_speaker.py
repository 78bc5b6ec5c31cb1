"""A whole session in a cockpit where loudspeaker and microphone share the air, in real time.

A synthetic crew goes through a checklist, calls one thing wrong in every other position, and at
many prompts speaks over them. What the record says must be what the crew called between prompts.
"""

from __future__ import annotations

import json
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from voicecheck.checklist.loader import load_checklist
from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, Position
from voicecheck.journal.format import JOURNAL
from voicecheck.measure.latency import EndsWhenTold
from voicecheck.measure.table import Table
from voicecheck.session.display import Quiet
from voicecheck.session.options import CockpitOptions, HearingOptions, RunOptions, VoiceOptions
from voicecheck.session.run import run
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.world.synthesis import Talker
from voicecheck.world.tap import Tap
from voicecheck.world.virtual_card import SoundCard

AIRFRAME: Final = ("tarn-40", "ZZ-HAC")
DELAY_MS: Final = 30
GAIN_DB: Final = -6.0
GOOD: Final = "satisfactory"
_CREW: Final = Talker("festival", "cmu_us_slt_arctic_hts")
_QUIET: Final = 0.9
"""Seconds of quiet at the loudspeaker after which the crew speaks: more than the room's tail."""
_LONGER_THAN_A_TONE: Final = 0.25
_TRIES: Final = 5
_PATIENCE: Final = 8.0
_START_SECONDS: Final = 120.0
_OUT_AFTER: Final = 4.0
"""Seconds from the leaving call to a timed lamp's going out: within every shipped window."""


@dataclass(slots=True)
class Flown:
    """What came of it. truth: outcome of each item by its id; over: utterances over a prompt."""

    truth: dict[str, str] = field(default_factory=dict)
    said: int = 0
    at_once: int = 0
    over: int = 0
    over_asked: int = 0
    over_acted_on: int = 0
    """Callouts acted on although a prompt sounded meanwhile, by the journal's own times."""
    never: list[str] = field(default_factory=list)
    """What the crew gave up saying."""
    summary: dict[str, Any] = field(default_factory=dict)
    seconds: float = 0.0

    def differences(self) -> list[str]:
        """Items whose outcome is not what was called, or good though nothing was called."""
        found = {item["id"]: item["outcome"] for item in self.summary["items"]}
        uncalled = {item for item, outcome in found.items() if outcome == GOOD} - self.truth.keys()
        return [
            f"{item}: called {outcome}, recorded {found.get(item)}"
            for item, outcome in (*self.truth.items(), *((item, None) for item in sorted(uncalled)))
            if found.get(item) != outcome
        ]

    def dangerous(self) -> list[str]:
        """Items recorded as good that were not called good between prompts."""
        return [d for d in self.differences() if d.endswith(f" {GOOD}")]


class _Screen(Quiet):
    """What the crew learns of what was understood."""

    def __init__(self) -> None:
        self.heard_words: list[str] = []
        self.asked = 0

    def heard(self, at: float, words: str, confidence: float) -> None:
        self.heard_words.append(words)

    def not_understood(self, at: float, reason: str) -> None:
        self.asked += 1


class _Flight:
    """The crew, in a thread of its own."""

    def __init__(self, card: SoundCard, checklist: Checklist, positions: int, screen: _Screen):
        self.flown = Flown()
        self.over = EndsWhenTold()
        self.failed: Exception | None = None
        """Why the crew gave up, if it did: nothing it did not do may pass for a measurement."""
        self._card = card
        self._checklist = checklist
        self._positions = positions
        self._screen = screen
        self._loudspeaker = Tap("vspk.monitor", card.env)

    def fly(self) -> None:
        """The whole test; it ends the session when the crew has said all."""
        try:
            self._until(lambda: bool(self._loudspeaker.stretches()), _START_SECONDS)
            self._power()
            tested = [p for p in self._checklist.positions if p.id != OFF][: self._positions]
            left: Position | None = None
            for number, position in enumerate(tested):
                self._go(position.select[0], left, _first_good(position) if number % 2 else None)
                timed = any(item.window is not None for item in position.items)
                self._items(position, wrong=number % 2 == 0 and not timed)
                left = position
            off = self._checklist.position(OFF)
            self._go(off.select[0], left, None)
            self._items(off, wrong=False)
            if self._positions < len(self._checklist.positions) - 1:
                self._say("test complete")
                self._say("affirm")
            self._until(lambda: self.over.over.is_set(), 10)
        except Exception as error:
            self.failed = error
        finally:
            self.over.over.set()
            self._loudspeaker.close()

    def _power(self) -> None:
        wanted = self._checklist.positions[0].power
        for bus in self._checklist.buses:
            self._say((bus.on if wanted.get(bus.id) != "off" else bus.off)[0])
            self._say("affirm")

    def _go(self, words: str, left: Position | None, over: str | None) -> None:
        """Turn the selector, call the lamp that goes out, and perhaps talk over the prompt."""
        timed = [item for item in (left.items if left else ()) if item.window is not None]
        went = self._say(words, None if timed else over)
        for item in timed:
            time.sleep(max(0.0, went + _OUT_AFTER - time.monotonic()))
            self._call(item, Grade.GOOD)

    def _items(self, position: Position, *, wrong: bool) -> None:
        for item in position.items:
            if item.window is None:
                self._call(item, Grade.BAD if wrong else Grade.GOOD)
                wrong = False

    def _call(self, item: Item, grade: Grade) -> None:
        reading = next((r for r in item.readings if r.grade is grade), item.readings[0])
        self._say(reading.phrases[0])
        good = reading.grade is Grade.GOOD
        self.flown.truth[item.id] = GOOD if good else "unsatisfactory"

    def _say(self, words: str, over: str | None = None) -> float:
        """Say it between prompts until it is understood; returns when it had been said.

        over: say this over the answer.
        """
        self.flown.said += 1
        ended = time.monotonic()
        for attempt in range(_TRIES):
            self._until(lambda: self._loudspeaker.quiet_for() > _QUIET, 20)
            before, asked = len(self._screen.heard_words), self._screen.asked
            self._card.speak(_CREW.say(words))
            ended = time.monotonic()
            self._answered(before, asked, _PATIENCE)
            if words in self._screen.heard_words[before:]:
                self.flown.at_once += attempt == 0
                if over is not None:
                    self._talk_over(over)
                self._settle()
                return ended
            self._settle()
        self.flown.never.append(words)
        return ended

    def _talk_over(self, words: str) -> None:
        """Begin to speak once the answer has sounded for longer than a tone does."""
        began = time.monotonic()
        since = began
        while time.monotonic() - since < _LONGER_THAN_A_TONE:
            if self._loudspeaker.quiet_for() > 0.06:
                since = time.monotonic()
            if time.monotonic() - began > _PATIENCE:
                return
            time.sleep(0.01)
        before, asked = len(self._screen.heard_words), self._screen.asked
        self.flown.over += 1
        self._card.speak(_CREW.say(words))
        self._answered(before, asked, _PATIENCE)
        self.flown.over_asked += self._screen.asked > asked

    def _answered(self, heard: int, asked: int, seconds: float) -> None:
        """Wait until more was understood, or asked again, than so many times."""
        screen = self._screen
        self._until(lambda: len(screen.heard_words) > heard or screen.asked > asked, seconds)

    def _settle(self) -> None:
        """Wait for the words that follow the tone."""
        self._until(lambda: self._loudspeaker.quiet_for() < 0.05, 1)
        time.sleep(_QUIET)

    def _until(self, true: Callable[[], bool], seconds: float) -> None:
        end = time.monotonic() + seconds
        while not true() and time.monotonic() < end and not self.over.over.is_set():
            time.sleep(0.02)


def fly(positions: int, folder: Path, second: str = "auto") -> Flown:
    """One session over so many positions. Raises VoicecheckError for missing parts."""
    type_id, registration = AIRFRAME
    loaded = load_checklist(
        type_id, registration, shipped=checklists_dir(), grammars=grammars_dir()
    )
    screen = _Screen()
    began = time.monotonic()
    with SoundCard() as card:
        card.join_room(DELAY_MS, GAIN_DB)
        flight = _Flight(card, loaded.checklist, positions, screen)
        crew = threading.Thread(target=flight.fly)
        crew.start()
        try:
            finished = run(
                RunOptions(
                    type_id,
                    registration,
                    folder / "log",
                    cockpit=CockpitOptions(headset=False),
                    hearing=HearingOptions(second=second),
                    voice=VoiceOptions(wording="terse"),
                ),
                folder / "cache",
                screen,
                flight.over,
            )
        finally:
            flight.over.over.set()
            crew.join()
    if flight.failed is not None:
        raise flight.failed
    flight.flown.summary = finished.summary
    flight.flown.over_acted_on = acted_on_over_prompts(finished.folder / JOURNAL)
    flight.flown.seconds = time.monotonic() - began
    return flight.flown


def _first_good(position: Position) -> str:
    item = position.items[0]
    return next(r for r in item.readings if r.grade is Grade.GOOD).phrases[0]


def acted_on_over_prompts(journal: Path) -> int:
    """Callouts heard while a prompt sounded, by the journal's own times."""
    lines = [json.loads(line) for line in journal.read_text("utf-8").splitlines()]
    events = [line["event"] for line in lines if "event" in line]
    prompts = [(e["start"], e["end"]) for e in events if e["type"] == "prompted"]
    return sum(
        any(start < event["end"] and event["start"] < end for start, end in prompts)
        for event in events
        if event["type"] == "heard"
    )


def measure_open_speaker(second: str = "auto") -> Table:
    """The whole checklist, about five minutes. second: as for `voicecheck run`."""
    with tempfile.TemporaryDirectory() as folder:
        flown = fly(99, Path(folder), second)
    wrong = flown.differences()
    return Table(
        f"A session through an open speaker ({DELAY_MS} ms, {GAIN_DB:g} dB), in real time",
        (
            "items",
            "recorded otherwise than called",
            "good though not so called",
            "callouts",
            "understood at once",
            "given up",
            "over a prompt",
            "of these asked again",
            "acted on",
            "took s",
        ),
        (
            (
                len(flown.truth),
                len(wrong),
                len(flown.dangerous()),
                flown.said,
                flown.at_once,
                len(flown.never),
                flown.over,
                flown.over_asked,
                flown.over_acted_on,
                round(flown.seconds),
            ),
        ),
        tuple(wrong),
    )
