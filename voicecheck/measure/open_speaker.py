"""A whole session in a cockpit where loudspeaker and microphone share the air, in real time.

A synthetic crew goes through a checklist, calls one thing wrong in every other position, and at
many prompts speaks over them. What the record says must be what the crew called between prompts.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from voicecheck.audio.source import Samples
from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, Position
from voicecheck.journal.format import JOURNAL
from voicecheck.measure.table import Table
from voicecheck.session.options import HearingOptions, VoiceOptions
from voicecheck.world.acts import Act, Utterance, Wait
from voicecheck.world.at_the_card import AtTheCard, at_the_card
from voicecheck.world.fleet import airframe
from voicecheck.world.rounds import good_words
from voicecheck.world.synthesis import Talker
from voicecheck.world.voices import sound_of

AIRFRAME: Final = ("tarn-40", "ZZ-HAC")
DELAY_MS: Final = 30
GAIN_DB: Final = -6.0
GOOD: Final = "satisfactory"
_CREW: Final = Talker("festival", "cmu_us_slt_arctic_hts")
_LONGER_THAN_A_TONE: Final = 0.25
_TRIES: Final = 5
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


class _Flight:
    """What the crew does."""

    def __init__(self, way: AtTheCard, checklist: Checklist, positions: int) -> None:
        self.flown = Flown()
        self._way = way
        self._checklist = checklist
        self._positions = positions

    def course(self) -> Iterator[Act]:
        """The whole test."""
        yield from self._way.greeting()
        yield from self._power()
        tested = [p for p in self._checklist.positions if p.id != OFF][: self._positions]
        left: Position | None = None
        for number, position in enumerate(tested):
            over = good_words(position.items[0]) if number % 2 else None
            yield from self._go(position.select[0], left, over)
            timed = any(item.window is not None for item in position.items)
            yield from self._items(position, wrong=number % 2 == 0 and not timed)
            left = position
        off = self._checklist.position(OFF)
        yield from self._go(off.select[0], left, None)
        yield from self._items(off, wrong=False)
        commands = self._checklist.commands
        if self._positions < len(self._checklist.positions) - 1:
            yield from self._say(commands["complete"][0])
            yield from self._say(commands["affirm"][0])
        yield Wait(self._way.now + 10)

    def _power(self) -> Iterator[Act]:
        wanted = self._checklist.positions[0].power
        for bus in self._checklist.buses:
            yield from self._say((bus.on if wanted.get(bus.id) != "off" else bus.off)[0])
            yield from self._say(self._checklist.commands["affirm"][0])

    def _go(self, words: str, left: Position | None, over: str | None) -> Iterator[Act]:
        """Turn the selector, call the lamp that goes out, and perhaps talk over the prompt."""
        timed = [item for item in (left.items if left else ()) if item.window is not None]
        went = yield from self._say(words, None if timed else over)
        for item in timed:
            yield Wait(went + _OUT_AFTER)
            yield from self._call(item, Grade.GOOD)

    def _items(self, position: Position, *, wrong: bool) -> Iterator[Act]:
        for item in position.items:
            if item.window is None:
                yield from self._call(item, Grade.BAD if wrong else Grade.GOOD)
                wrong = False

    def _call(self, item: Item, grade: Grade) -> Iterator[Act]:
        reading = next((r for r in item.readings if r.grade is grade), item.readings[0])
        yield from self._say(reading.phrases[0])
        good = reading.grade is Grade.GOOD
        self.flown.truth[item.id] = GOOD if good else "unsatisfactory"

    def _say(self, words: str, over: str | None = None) -> Generator[Act, None, float]:
        """Say it between prompts until it is understood; returns when it had been said.

        over: say this over the answer.
        """
        self.flown.said += 1
        screen = self._way.screen
        for attempt in range(_TRIES):
            before = len(screen.words)
            yield Utterance(0, (), words, 0.0)
            ended = self._way.said_at
            if words in screen.words[before:]:
                self.flown.at_once += attempt == 0
                if over is not None:
                    yield from self._talk_over(over)
                return ended
        self.flown.never.append(words)
        return ended

    def _talk_over(self, words: str) -> Iterator[Act]:
        """Begin to speak once the answer has sounded for longer than a tone does."""
        began = since = self._way.now
        while self._way.now - since < _LONGER_THAN_A_TONE:
            if self._way.loudspeaker.quiet_for() > 0.06:
                since = self._way.now
            if self._way.now - began > self._way.patience:
                return
            yield Wait(self._way.now)
        asked = self._way.screen.asked
        self.flown.over += 1
        yield Utterance(0, (), words, 0.0, waits=False)
        self.flown.over_asked += self._way.screen.asked > asked


def fly(positions: int, folder: Path, second: str = "auto") -> Flown:
    """One session over so many positions. Raises VoicecheckError for missing parts."""
    checklist = airframe(*AIRFRAME).checklist
    options = HearingOptions(second=second), VoiceOptions(wording="terse")
    began = time.monotonic()
    flights: list[_Flight] = []

    def course(way: AtTheCard) -> Iterator[Act]:
        flights.append(_Flight(way, checklist, positions))
        return flights[0].course()

    def said(words: str) -> Samples:
        return sound_of(_CREW, words, folder)

    air = DELAY_MS, GAIN_DB
    finished, _ = at_the_card(AIRFRAME, folder, options, said, course, air)
    flown = flights[0].flown
    flown.summary = finished.summary
    flown.over_acted_on = acted_on_over_prompts(finished.folder / JOURNAL)
    flown.seconds = time.monotonic() - began
    return flown


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
