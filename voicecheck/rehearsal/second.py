"""A student as the second crew member: the simulated pilot calls, the student reads back.

The pilot speaks on a channel of its own, so that the session is one of two microphones. It
misreads more often than a person would, so that there is something to hear: a read-back is a
look of one's own at the panel, not an echo. Marked is what the student called, and what the
pilot called good, was not, and stood.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from voicecheck.audio.beside import Beside
from voicecheck.audio.player import PromptPlayer
from voicecheck.audio.source import AudioSource, Samples
from voicecheck.checklist.resolved import Grade
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.manners import Manners
from voicecheck.rehearsal.marks import Mark, marked
from voicecheck.rehearsal.real_time import RealTime
from voicecheck.rehearsal.trainer import Showing
from voicecheck.rehearsal.training import Cockpit, Lesson, Room, Seat, Trained, taught
from voicecheck.session.options import RunOptions
from voicecheck.session.touches import Touches
from voicecheck.words import say
from voicecheck.world.driver import acting
from voicecheck.world.journal_lines import Line, ListeningIn
from voicecheck.world.voices import VOICES, Voices
from voicecheck.world.wordings import Wordings

PILOT: Final = Manners(misread=0.12, compound=0.0)
"""Every eighth look wrong, and one thing at a time."""
SECOND: Final = 1
"""The student's channel, and his number in the crew."""


class SecondSeat(RealTime):
    """One session beside a simulated pilot. touches: the wish to stop goes there."""

    def __init__(
        self,
        crew: Crew,
        log: Path,
        voices: Voices,
        showing: Showing,
        voice: PromptPlayer | None,
        touches: Touches,
    ) -> None:
        super().__init__(voices, self._speak, student=SECOND)
        self._crew = crew
        self._listening = ListeningIn(log)
        self._readings = Wordings(crew.checklist).readings
        self._show = showing
        self._voice = voice
        self._touches = touches
        self._beside: Beside | None = None
        self._asked: dict[str, float] = {}
        self._acting = acting(crew, self)
        self.marks: list[Mark] = []

    def around(self, own: AudioSource) -> AudioSource:
        """Sit beside the student's microphone."""
        self._beside = Beside(own)
        return self._beside

    def items(self) -> frozenset[str]:
        """The items that the student was asked about, or that there is a mark for."""
        return frozenset(self._asked) | {mark.item for mark in self.marks}

    def tick(self, at: float) -> None:
        """Stream time has come to `at`."""
        self.clock = at
        for line in self._listening.poll():
            self.hear(line)
            self._mark(line)
        next(self._acting, None)
        self._show(at)
        if self._crew.is_over:
            self._touches.stop(say("ended-pilot-left"))

    def _speak(self, sound: Samples) -> None:
        assert self._beside is not None
        self._beside.say(sound)
        if self._voice is not None:
            self._voice.play(sound)

    def _mark(self, line: Line) -> None:
        event = line.event
        if event["type"] == "heard" and line.channel == SECOND:
            self._mark_call(event)
        for note in line.notes:
            item = str(note["facts"].get("item", ""))
            if note["kind"] == "read-back" and line.channel != SECOND:
                self._asked[item] = self.clock
            elif note["kind"] == "result" and line.channel != SECOND:
                self._mark_unnoticed(item)

    def _mark_call(self, event: dict[str, Any]) -> None:
        item, reading = self._readings.get(event["callout"], (None, None))
        if item is None or reading is None or item.window is not None:
            return
        asked = self._asked.get(item.id)
        took = None if asked is None else float(event["start"]) - asked
        bad, panel = reading.grade is not Grade.GOOD, self._crew.aircraft.panel(self.clock)
        self.marks.append(marked(item, str(event["words"]), bad, panel, took))

    def _mark_unnoticed(self, item: str) -> None:
        """The pilot alone called it good: missed, if it was not and the student is silent."""
        calls = self._crew.account.of(item)
        last = calls[-1] if calls else None
        if last is None or last.right is None:
            return
        if self._readings[last.key][1].grade is not Grade.GOOD:
            return
        was = self._readings[last.right][1]
        if was.grade is not Grade.GOOD:
            self.marks.append(Mark(item, last.words, was.phrases[0], False, True, None))


def train_second(options: RunOptions, cache: Path, lesson: Lesson, room: Room) -> Trained:
    """The whole session. Raises VoicecheckError before anything is recorded."""

    def sit(cockpit: Cockpit) -> Seat:
        aircraft, voice = cockpit.aircraft, cockpit.player("notice-pilot-seen")
        crew = Crew(
            aircraft.checklist, aircraft, PILOT, cockpit.chance, second=True, channels=SECOND + 1
        )
        voices = Voices(VOICES, cache)
        seat = SecondSeat(crew, options.log, voices, cockpit.showing, voice, room.touches)
        two = replace(
            options,
            cockpit=replace(options.cockpit, channels=2),
            pilot=cockpit.words("simulated-pilot"),
            second=lesson.student,
        )
        name = f"{lesson.student}, second"
        return Seat(two, room.display, seat.tick, seat.marks, name, seat.around, seat.items)

    return taught(options, cache, lesson, room, sit)
