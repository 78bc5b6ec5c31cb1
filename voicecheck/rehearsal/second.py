"""A student as the second crew member: the simulated pilot calls, the student reads back.

The pilot speaks on a channel of its own, so that the session is one of two microphones. It
misreads more often than a person would, so that there is something to hear: a read-back is a
look of one's own at the panel, not an echo. Marked is what the student called, and what the
pilot called good, was not, and stood.
"""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from voicecheck.audio.beside import Beside
from voicecheck.audio.player import Player, PromptPlayer
from voicecheck.audio.source import AudioSource, Samples
from voicecheck.checklist.resolved import Grade
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.account import Entry
from voicecheck.rehearsal.aircraft import Aircraft
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.faults import TRAINING_FAULTS, faults_of_session
from voicecheck.rehearsal.horns import Horns
from voicecheck.rehearsal.listening_in import Line, ListeningIn
from voicecheck.rehearsal.manners import Manners
from voicecheck.rehearsal.marks import Mark, keep_marks, marks_of
from voicecheck.rehearsal.panel import right_reading
from voicecheck.rehearsal.performer import Performer
from voicecheck.rehearsal.trainer import Mirror, Showing, Tell
from voicecheck.rehearsal.training import Trained, horns_for
from voicecheck.rehearsal.voices import VOICES
from voicecheck.rehearsal.wordings import Wordings
from voicecheck.session.display import Display
from voicecheck.session.options import RunOptions
from voicecheck.session.run import load, run
from voicecheck.session.touches import Touches
from voicecheck.words import say

PILOT: Final = Manners(misread=0.12, compound=0.0)
"""Every eighth look wrong, and one thing at a time."""
SECOND: Final = 1
"""The student's channel, and his number in the crew."""


class SecondSeat:
    """One session beside a simulated pilot. touches: the wish to stop goes there."""

    def __init__(
        self,
        crew: Crew,
        log: Path,
        cache: Path,
        tell: Tell,
        horns: Horns | None,
        voice: PromptPlayer | None,
        touches: Touches,
        mirror: Mirror | None,
    ) -> None:
        self._crew = crew
        self._listening = ListeningIn(log)
        self._readings = Wordings(crew.checklist).readings
        self._show = Showing(crew.aircraft, tell, mirror)
        self._horns = horns
        self._voice = voice
        self._beside: Beside | None = None
        self._asked: dict[str, float] = {}
        self.marks: list[Mark] = []
        self.touches = touches
        talkers = (VOICES[0], VOICES[1])
        self._performer = Performer(crew, talkers, cache, self._utter, student=SECOND)

    def around(self, own: AudioSource) -> AudioSource:
        """Sit beside the student's microphone."""
        self._beside = Beside(own)
        return self._beside

    @property
    def items(self) -> frozenset[str]:
        """The items that the student was asked about, or that there is a mark for."""
        return frozenset(self._asked) | {mark.item for mark in self.marks}

    def tick(self, at: float) -> None:
        """Stream time has come to `at`."""
        for line in self._listening.poll():
            self._performer.hear(line, at)
            self._mark(line, at)
        self._performer.tick(at)
        self._show(at)
        if self._horns is not None:
            self._horns.follow(self._crew.aircraft.panel(at).sounds)
        if self._performer.is_over:
            self.touches.stop(say("ended-pilot-left"))

    def _utter(self, sound: Samples) -> None:
        assert self._beside is not None
        self._beside.say(sound)
        if self._voice is not None:
            self._voice.play(sound)

    def _mark(self, line: Line, at: float) -> None:
        event = line.event
        if event["type"] == "heard" and line.channel == SECOND:
            self._mark_call(event, at)
        for note in line.notes:
            item = str(note["facts"].get("item", ""))
            if note["kind"] == "read-back" and line.channel != SECOND:
                self._asked[item] = at
            elif note["kind"] == "result" and line.channel != SECOND:
                self._mark_unnoticed(item)

    def _mark_call(self, event: dict[str, Any], at: float) -> None:
        item, reading = self._readings.get(event["callout"], (None, None))
        if item is None or reading is None or item.window is not None:
            return
        was = right_reading(item, self._crew.aircraft.panel(at))
        faulty = was.grade is not Grade.GOOD
        asked = self._asked.get(item.id)
        took = None if asked is None else round(max(0.0, float(event["start"]) - asked), 2)
        right = (reading.grade is not Grade.GOOD) == faulty
        called = str(event["words"])
        self.marks.append(Mark(item.id, called, was.phrases[0], right, faulty, took))

    def _mark_unnoticed(self, item: str) -> None:
        """The pilot alone called it good: missed, if it was not and the student is silent."""
        calls: list[Entry] = self._crew.account.of(item)
        last = calls[-1] if calls else None
        if last is None or last.right is None or last.grade is not Grade.GOOD:
            return
        was = self._readings[last.right][1]
        if was.grade is not Grade.GOOD:
            self.marks.append(Mark(item, last.words, was.phrases[0], False, True, None))


def train_second(
    options: RunOptions,
    cache: Path,
    display: Display,
    tell: Tell,
    *,
    faults: str,
    seed: int,
    student: str,
    progress: Path,
    touches: Touches | None = None,
    mirror: Mirror | None = None,
) -> Trained:
    """The whole session. Raises VoicecheckError before anything is recorded.

    touches: what is entered on screens. mirror: draws the aircraft's panel.
    """
    loaded = load(options)
    checklist = loaded.checklist
    chance = random.Random(seed)
    injected = faults_of_session(faults, checklist, chance, TRAINING_FAULTS)
    crew = Crew(
        checklist, Aircraft(checklist, injected, seed), PILOT, chance, second=True, channels=2
    )
    horns, voice = horns_for(options, checklist, display), _voice(options, display)
    seat = SecondSeat(crew, options.log, cache, tell, horns, voice, touches or Touches(), mirror)
    two = replace(
        options,
        cockpit=replace(options.cockpit, channels=2),
        pilot=loaded.language.words("simulated-pilot"),
        second=student,
    )
    try:
        finished = run(
            two, cache, display, touches=seat.touches, tick=seat.tick, around=seat.around
        )
    finally:
        for part in (horns, voice):
            if part is not None:
                part.close()
    summary = finished.summary
    asked = {**summary, "items": [i for i in summary["items"] if i["id"] in seat.items]}
    marks = marks_of(
        f"{student}, second",
        str(summary["started"]),
        checklist.registration,
        map(str, injected),
        seat.marks,
        asked,
    )
    earlier = keep_marks(marks, progress)
    return Trained(finished, injected, tuple(seat.marks), marks, tuple(earlier))


def _voice(options: RunOptions, display: Display) -> PromptPlayer | None:
    """Where the student hears the pilot; a recording was made without."""
    if options.wav is not None or not options.voice.speak:
        return None
    try:
        return Player(options.voice.loudspeaker)
    except VoicecheckError as error:
        display.notice(f"the pilot is only seen: {error}")
        return None
