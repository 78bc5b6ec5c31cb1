"""Many sessions, one after another or on several processors, and what must be shown of them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import soundfile

from voicecheck.audio.source import RATE
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
        if outcome.crash or outcome.judgement.dangerous or outcome.judgement.false_findings:
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


def keep(outcome: Outcome, folder: Path) -> Path:
    """Write what a session rests on: the crew's account, its journal, and its sound if any."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{outcome.registration}-{outcome.number}.json"
    evidence: dict[str, Any] = dict(outcome.evidence)
    played = evidence.pop("played", None)
    if played is not None:
        evidence["journal"] = played.lines
        soundfile.write(path.with_suffix(".wav"), played.sound, RATE, subtype="PCM_16")
    facts = {
        "airframe": outcome.registration,
        "number": outcome.number,
        "faults": [str(fault) for fault in outcome.faults],
        "dangerous": [f"{w.item}: {w.why}" for w in outcome.judgement.dangerous],
        "false findings": [f"{w.item}: {w.why}" for w in outcome.judgement.false_findings],
        "crash": outcome.crash,
        **evidence,
    }
    path.write_text(json.dumps(facts, ensure_ascii=False, indent=1, default=str) + "\n", "utf-8")
    return path
