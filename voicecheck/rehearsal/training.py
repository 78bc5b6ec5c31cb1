"""One training session: a real session on a simulated aircraft, and its marks."""

from __future__ import annotations

import random
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

import platformdirs

from voicecheck.audio.player import Player
from voicecheck.audio.source import AudioSource
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.marks import Mark, Marks, keep_marks, marks_of
from voicecheck.rehearsal.trainer import Mirror, Showing, Tell, Trainer
from voicecheck.session.display import Display
from voicecheck.session.options import RunOptions
from voicecheck.session.run import Finished, load, run
from voicecheck.session.touches import Touches
from voicecheck.words import Words, say
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import TRAINING_FAULTS, Fault, faults_of_session
from voicecheck.world.horns import Horns, kinds_of


@dataclass(frozen=True, slots=True)
class Lesson:
    """Who trains on which aircraft. faults: as a user writes them; progress: where marks go."""

    faults: str
    seed: int
    student: str
    progress: Path


@dataclass(frozen=True, slots=True)
class Room:
    """Where it is shown. touches: what is entered on screens. mirror: draws the panel."""

    display: Display
    tell: Tell
    touches: Touches = field(default_factory=Touches)
    mirror: Mirror | None = None


@dataclass(frozen=True, slots=True)
class Trained:
    """A session that is over. calls: every mark; earlier: the student's marks before."""

    finished: Finished
    faults: tuple[Fault, ...]
    calls: tuple[Mark, ...]
    marks: Marks
    earlier: tuple[Marks, ...]


@dataclass(frozen=True, slots=True)
class Cockpit:
    """The aircraft of a lesson. chance: its dice. player: a loudspeaker, or why there is none.

    words: of the session's language.
    """

    aircraft: Aircraft
    words: Words
    chance: random.Random
    showing: Showing
    player: Callable[[str], Player | None]


@dataclass(frozen=True, slots=True)
class Seat:
    """Where a student sits: options and display of the session, and what he is told and marked.

    around: makes the session's sound out of the student's; None: it is the student's. student:
    in the marks. items: the only ones that count; None: all.
    """

    options: RunOptions
    display: Display
    tick: Callable[[float], None]
    marks: list[Mark]
    student: str
    around: Callable[[AudioSource], AudioSource] | None = None
    items: Callable[[], frozenset[str]] | None = None


def progress_file() -> Path:
    """Where students' marks are kept."""
    return platformdirs.user_state_path("voicecheck") / "rehearsals.jsonl"


def train(options: RunOptions, cache: Path, lesson: Lesson, room: Room) -> Trained:
    """A student calls: the whole session. Raises VoicecheckError before anything is recorded."""

    def sit(cockpit: Cockpit) -> Seat:
        trainer = Trainer(cockpit.aircraft, room.display, cockpit.showing)
        theirs = replace(options, pilot=lesson.student)
        return Seat(theirs, trainer, trainer.tick, trainer.marks, lesson.student)

    return taught(options, cache, lesson, room, sit)


def taught(
    options: RunOptions, cache: Path, lesson: Lesson, room: Room, sit: Callable[[Cockpit], Seat]
) -> Trained:
    """The whole session of whoever sits down. Raises VoicecheckError."""
    loaded = load(options)
    checklist = loaded.checklist
    chance = random.Random(lesson.seed)
    injected = faults_of_session(lesson.faults, checklist, chance, TRAINING_FAULTS)
    aircraft = Aircraft(checklist, injected, lesson.seed)
    with ExitStack() as opened:

        def player(otherwise: str) -> Player | None:
            """None for a recording, or when mute."""
            if options.wav is not None or not options.voice.speak:
                return None
            try:
                made = Player(options.voice.loudspeaker)
            except VoicecheckError as error:
                room.display.notice(say(otherwise, why=error))
                return None
            opened.callback(made.close)
            return made

        loud = player("notice-aircraft-silent")
        horns = Horns(loud, kinds_of(checklist)) if loud else None
        showing = Showing(aircraft, room.tell, room.mirror, horns)
        seat = sit(Cockpit(aircraft, loaded.language.words, chance, showing, player))
        finished = run(
            seat.options,
            cache,
            seat.display,
            touches=room.touches,
            tick=seat.tick,
            around=seat.around,
        )
    summary = finished.summary
    if seat.items is not None:
        counted = seat.items()
        summary = {**summary, "items": [i for i in summary["items"] if i["id"] in counted]}
    started, registration = str(summary["started"]), checklist.registration
    marks = marks_of(seat.student, started, registration, map(str, injected), seat.marks, summary)
    earlier = keep_marks(marks, lesson.progress)
    return Trained(finished, injected, tuple(seat.marks), marks, tuple(earlier))
