"""One training session: a real session on a simulated aircraft, and its marks."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from pathlib import Path

import platformdirs

from voicecheck.audio.player import Player
from voicecheck.checklist.resolved import Checklist
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.aircraft import Aircraft
from voicecheck.rehearsal.faults import TRAINING_FAULTS, Fault, faults_of_session
from voicecheck.rehearsal.horns import Horns, kinds_of
from voicecheck.rehearsal.marks import Mark, Marks, keep_marks, marks_of
from voicecheck.rehearsal.trainer import Mirror, Tell, Trainer
from voicecheck.session.display import Display
from voicecheck.session.options import RunOptions
from voicecheck.session.run import Finished, load, run
from voicecheck.session.touches import Touches
from voicecheck.words import say


@dataclass(frozen=True, slots=True)
class Trained:
    """A session that is over. calls: every mark; earlier: the student's marks before."""

    finished: Finished
    faults: tuple[Fault, ...]
    calls: tuple[Mark, ...]
    marks: Marks
    earlier: tuple[Marks, ...]


def progress_file() -> Path:
    """Where students' marks are kept."""
    return platformdirs.user_state_path("voicecheck") / "rehearsals.jsonl"


def train(
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
    checklist = load(options).checklist
    chance = random.Random(seed)
    injected = faults_of_session(faults, checklist, chance, TRAINING_FAULTS)
    aircraft = Aircraft(checklist, injected, seed)
    horns = horns_for(options, checklist, display)
    trainer = Trainer(aircraft, display, tell, horns, mirror)
    try:
        finished = run(
            replace(options, pilot=student), cache, trainer, touches=touches, tick=trainer.tick
        )
    finally:
        if horns is not None:
            horns.close()
    summary = finished.summary
    marks = marks_of(
        student,
        str(summary["started"]),
        checklist.registration,
        map(str, injected),
        trainer.marks,
        summary,
    )
    earlier = keep_marks(marks, progress)
    return Trained(finished, injected, tuple(trainer.marks), marks, tuple(earlier))


def horns_for(options: RunOptions, checklist: Checklist, display: Display) -> Horns | None:
    """What the aircraft sounds through; None for a recording, or when mute."""
    if options.wav is not None or not options.voice.speak:
        return None
    try:
        return Horns(Player(options.voice.loudspeaker), kinds_of(checklist))
    except VoicecheckError as error:
        display.notice(say("notice-aircraft-silent", why=error))
        return None
