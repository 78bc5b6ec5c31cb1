"""One session with random faults, played and judged.

What is counted comes from the crew's own account (rehearsal.judge). Every session depends on
its seed alone, so any of them can be played again.
"""

from __future__ import annotations

import os
import random
import traceback
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.resolved import Checklist, Shows
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.aircraft import SETTLED, Aircraft
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.evidence import replayed
from voicecheck.rehearsal.fast import FastLoop, Played
from voicecheck.rehearsal.faults import PROOF_FAULTS, Fault, faults_of_session
from voicecheck.rehearsal.judge import Judgement, judge
from voicecheck.rehearsal.live import LiveLoop
from voicecheck.rehearsal.manners import Ears, Manners
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.sound import Sounded, SoundLoop
from voicecheck.rehearsal.voices import VOICES
from voicecheck.session.options import HearingOptions
from voicecheck.speech.opening import OpenedEar

_WORD: Final = 0.33
_PAUSE: Final = 0.575
"""Seconds that a simulated crew takes for a word, and between two calls."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What is the same for all sessions of a proof. faults: as a user writes them."""

    faults: str
    manners: Manners
    ears: Ears
    seed: int
    two_crew: float = 0.4
    """Share of sessions with two people."""
    channels: int | None = None
    """Microphones that two people have; None: one in half of those sessions, else two."""

    @property
    def lanes(self) -> int:
        """Channels that a session through sound may need."""
        return (self.channels or 2) if self.two_crew else 1


def silent_ideal(checklist: Checklist) -> float:
    """Seconds that the test would take a crew to whom nobody says a word, read from its items."""
    calls = [position.select[0] for position in checklist.positions]
    calls += [item.readings[0].phrases[0] for item in checklist.items]
    calls += [bus.on[0] for bus in checklist.buses]
    words = sum(len(call.split()) for call in calls)
    looks = sum(item.shows is not Shows.GOES_OUT for item in checklist.items)
    timed = sum((i.window.lower + i.window.upper) / 2 for i in checklist.items if i.window)
    return words * _WORD + len(calls) * (_PAUSE + 0.1) + looks * SETTLED + timed


def play_fast(loaded: Loaded, number: int, terms: Terms) -> Outcome:
    """One session without sound."""
    crew, faults, chance = _cast(loaded, number, terms)
    begun = _worked()
    loop = FastLoop(loaded.checklist, crew, terms.ears, chance)
    try:
        played = loop.play()
        outcome = _count(loaded, number, faults, crew, played)
        outcome = replace(outcome, cut=played.cut_off, work=_worked() - begun)
    except Exception:
        outcome = _crashed(loaded, number, faults, crew)
    if not outcome.is_wrong:
        return outcome
    journal = replayed(loaded.checklist, loop.played.events)
    return replace(outcome, evidence={"journal": journal, **_account(crew)})


def play_sound(
    loaded: Loaded,
    number: int,
    terms: Terms,
    ears: Sequence[OpenedEar],
    cache: Path,
    db: float | None,
) -> Outcome:
    """One session through synthesis, noise and listeners. ears: as many as the terms say."""
    begun = _worked()
    crew, faults, chance = _cast(loaded, number, terms)
    talkers = tuple(chance.sample(VOICES, 2))
    loop = SoundLoop(
        loaded,
        crew,
        ears[: crew.account.channels],
        (talkers[0], talkers[1]),
        cache,
        noise_db=db,
        seed=terms.seed * 100_003 + number,
    )
    try:
        played = loop.play()
        outcome = _count(loaded, number, faults, crew, played)
    except VoicecheckError:
        raise  # something is missing on this machine: no session would go
    except Exception:
        return replace(_crashed(loaded, number, faults, crew), noise_db=db)
    work = _worked() - begun
    outcome = replace(outcome, noise_db=db, cut=played.cut_off, work=work)
    if not outcome.is_wrong:
        return outcome
    evidence = {"played": played, "talker": asdict(talkers[0]), **_account(crew)}
    return replace(outcome, evidence=evidence)


def play_live(
    loaded: Loaded, number: int, terms: Terms, hearing: HearingOptions, cache: Path
) -> Outcome:
    """One session in real time, through a sound card made of software."""
    begun = _worked()
    crew, faults, chance = _cast(loaded, number, replace(terms, channels=1))
    talkers = tuple(chance.sample(VOICES, 2))
    played = LiveLoop(loaded, crew, hearing, (talkers[0], talkers[1]), cache).play()
    outcome = _count(loaded, number, faults, crew, played)
    outcome = replace(outcome, work=_worked() - begun)
    if not outcome.is_wrong:
        return outcome
    evidence = {"played": played, "talker": asdict(talkers[0]), **_account(crew)}
    return replace(outcome, evidence=evidence)


def _cast(
    loaded: Loaded, number: int, terms: Terms
) -> tuple[Crew, tuple[Fault, ...], random.Random]:
    checklist = loaded.checklist
    chance = random.Random(f"{terms.seed} {checklist.registration} {number}")
    faults = faults_of_session(terms.faults, checklist, chance, PROOF_FAULTS)
    aircraft = Aircraft(checklist, faults, chance.randrange(2**31))
    second = chance.random() < terms.two_crew
    channels = 2 if second and chance.random() < 0.5 else 1
    if second and terms.channels is not None:
        channels = terms.channels
    crew = Crew(checklist, aircraft, terms.manners, chance, second=second, channels=channels)
    return crew, faults, chance


def _count(
    loaded: Loaded,
    number: int,
    faults: tuple[Fault, ...],
    crew: Crew,
    played: Played | Sounded,
) -> Outcome:
    judgement = judge(loaded.checklist, crew.account, played.session, played.summary)
    return Outcome(
        registration=loaded.checklist.registration,
        number=number,
        faults=tuple(map(str, faults)),
        judgement=judgement,
        asked_again=crew.account.asked_again,
        length=played.seconds,
        ideal=silent_ideal(loaded.checklist),
        complete=bool(played.summary["complete"]),
    )


def _worked() -> float:
    """Seconds of processor time of this process and of the programs that it ran."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def _account(crew: Crew) -> dict[str, Any]:
    return {"account": [asdict(entry) for entry in crew.account.entries]}


def _crashed(loaded: Loaded, number: int, faults: tuple[Fault, ...], crew: Crew) -> Outcome:
    nothing = Judgement((), (), (), 0, 0, 0)
    told = traceback.format_exc().strip().splitlines()
    registration = loaded.checklist.registration
    return Outcome(
        registration, number, tuple(map(str, faults)), nothing,
        crew.account.asked_again, 0.0, 1.0, False,
        "; ".join(line.strip() for line in told[-3:]),
    )  # fmt: skip
