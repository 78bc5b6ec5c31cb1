"""Many sessions, one after another or on several processors, and what must be shown of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

from voicecheck.checklist.loader import Loaded
from voicecheck.rehearsal.accumulate import Accumulated
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms, play_fast, play_live, play_sound
from voicecheck.rehearsal.tally import Tally
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import HearingOptions

SHARE = 250
"""Sessions that a processor takes at a time."""

Tell = Callable[[Outcome], None]


def fast(airframes: list[Loaded], sessions: int, terms: Terms, jobs: int, tell: Tell) -> Tally:
    """Sessions without sound, the airframes in turn. tell: called for whatever went wrong."""
    tally = Tally()
    parts = [(at, min(at + SHARE, sessions)) for at in range(0, sessions, SHARE)]
    for part, wrong in _parts(airframes, parts, terms, jobs):
        tally.merge(part)
        for outcome in wrong:
            tell(outcome)
    return tally


def _parts(
    airframes: list[Loaded], parts: list[tuple[int, int]], terms: Terms, jobs: int
) -> Iterator[tuple[Tally, list[Outcome]]]:
    if jobs == 1:
        for part in parts:
            yield _share(airframes, part, terms)
        return
    with _pool(jobs) as pool:
        waiting = [pool.submit(_share, airframes, part, terms) for part in parts]
        for done in waiting:
            yield done.result()


def _share(
    airframes: list[Loaded], part: tuple[int, int], terms: Terms
) -> tuple[Tally, list[Outcome]]:
    tally, wrong = Tally(), []
    for number in range(*part):
        outcome = play_fast(airframes[number % len(airframes)], number, terms)
        tally.add(outcome)
        if outcome.is_wrong:
            wrong.append(outcome)
    return tally, wrong


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
    for outcome in _played(task, numbers, jobs):
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


def _played(task: Task, numbers: list[int], jobs: int) -> Iterator[Outcome]:
    if jobs == 1:
        yield from map(task.play, numbers)
        return
    with _pool(jobs) as pool:
        for done in as_completed([pool.submit(task.play, number) for number in numbers]):
            yield done.result()


@contextmanager
def _pool(jobs: int) -> Iterator[ProcessPoolExecutor]:
    """Processes that stop with the first error, whoever made it, and not after all the rest."""
    # A forked process would lack the threads that the listeners' libraries have, and their locks.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        try:
            yield pool
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
