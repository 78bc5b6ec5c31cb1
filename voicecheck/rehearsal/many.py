"""Many sessions, one after another or on several processors, and what must be shown of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from voicecheck.checklist.loader import Loaded
from voicecheck.rehearsal.proof import Outcome, Tally, Terms, play_fast, play_sound
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
    with ProcessPoolExecutor(jobs) as pool:
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


def sound(
    airframes: list[Loaded],
    sessions: int,
    terms: Terms,
    hearing: HearingOptions,
    cache: Path,
    db: float | None,
    tell: Tell,
) -> Tally:
    """Sessions through sound, at one noise level, the airframes in turn."""
    tally = Tally()
    for number in range(sessions):
        loaded = airframes[number % len(airframes)]
        ear = open_hearing(loaded.language, hearing, cache)
        outcome = play_sound(loaded, number, terms, ear, cache, db)
        tally.add(outcome)
        tell(outcome)
    return tally
