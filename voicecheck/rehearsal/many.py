"""Many sessions through sound, one after another or on several processors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from voicecheck.checklist.loader import Loaded
from voicecheck.rehearsal.accumulate import Accumulated
from voicecheck.rehearsal.aloud import play_live, play_sound
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms
from voicecheck.rehearsal.tally import Tally
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import HearingOptions
from voicecheck.world.processes import side_by_side

Tell = Callable[[Outcome], None]


@dataclass(frozen=True, slots=True)
class Task:
    """Sessions through sound at one noise level. db: None for a quiet room."""

    airframes: list[Loaded]
    terms: Terms
    hearing: HearingOptions
    cache: Path
    db: float | None = None

    def play(self, number: int) -> Outcome:
        """One of them; the airframes in turn."""
        loaded = self.airframes[number % len(self.airframes)]
        language = loaded.language
        ears = [open_hearing(language, self.hearing, self.cache) for _ in range(self.terms.lanes)]
        return play_sound(loaded, number, self.terms, ears, self.cache, self.db)


def sound(
    task: Task, sessions: int, jobs: int, tell: Tell, kept: Accumulated | None = None
) -> Tally:
    """Sessions through sound. tell: called for each as it ends.

    kept: sessions that were played before are counted from it, and the others added to it.
    """
    numbers = list(range(sessions)) if kept is None else kept.missing(task.db, sessions)
    ended: dict[int, Outcome] = {}
    for outcome in kept.of(task.db, sessions) if kept is not None else ():
        ended[outcome.number] = outcome
    for outcome in side_by_side(task.play, numbers, jobs, in_order=False):
        tell(outcome)
        if kept is not None:
            kept.add(outcome)
        ended[outcome.number] = replace(outcome, evidence={})
    tally = Tally()
    for number in sorted(ended):
        tally.add(ended[number])
    return tally


def live(task: Task, sessions: int, tell: Tell) -> Tally:
    """Sessions in real time, one after another. tell: called for each as it ends."""
    tally = Tally()
    for number in range(sessions):
        loaded = task.airframes[number % len(task.airframes)]
        outcome = play_live(loaded, number, task.terms, task.hearing, task.cache)
        tally.add(outcome)
        tell(outcome)
    return tally
