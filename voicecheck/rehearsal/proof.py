"""One session with random faults, played and judged.

What is counted comes from the crew's own account (rehearsal.judge). Every session depends on
its seed alone, so any of them can be played again.
"""

from __future__ import annotations

import os
import random
import traceback
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.resolved import Checklist, Shows
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.evidence import replayed
from voicecheck.rehearsal.fast import FastLoop
from voicecheck.rehearsal.judge import Judgement, judge
from voicecheck.rehearsal.live import LiveLoop
from voicecheck.rehearsal.manners import Ears, Manners
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.sound import SoundLoop
from voicecheck.session.options import HearingOptions
from voicecheck.speech.opening import OpenedEar
from voicecheck.world.aircraft import SETTLED, Aircraft
from voicecheck.world.faults import PROOF_FAULTS, Fault, faults_of_session
from voicecheck.world.microphones import in_pink_noise
from voicecheck.world.synthesis import Talker
from voicecheck.world.voices import VOICES, Voices

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

    def begun(cast: _Cast) -> FastLoop:
        return FastLoop(loaded.checklist, cast.crew, terms.ears, cast.chance)

    return _played(loaded, number, terms, begun, ())


def play_sound(
    loaded: Loaded,
    number: int,
    terms: Terms,
    ears: Sequence[OpenedEar],
    cache: Path,
    db: float | None,
) -> Outcome:
    """One session through synthesis, noise and listeners. ears: as many as the terms say."""

    def begun(cast: _Cast) -> SoundLoop:
        channels = cast.crew.account.channels
        microphones = in_pink_noise(channels, db, terms.seed * 100_003 + number)
        return SoundLoop(loaded, cast.crew, ears[:channels], cast.voices(cache), microphones)

    return replace(_played(loaded, number, terms, begun, VoicecheckError), noise_db=db)


def play_live(
    loaded: Loaded, number: int, terms: Terms, hearing: HearingOptions, cache: Path
) -> Outcome:
    """One session in real time, through a sound card made of software."""

    def begun(cast: _Cast) -> LiveLoop:
        return LiveLoop(loaded, cast.crew, hearing, cast.voices(cache))

    return _played(loaded, number, replace(terms, channels=1), begun, Exception)


def _played(
    loaded: Loaded,
    number: int,
    terms: Terms,
    begun: Callable[[_Cast], FastLoop | SoundLoop | LiveLoop],
    passed_on: type[Exception] | tuple[()],
) -> Outcome:
    """One session, counted. passed_on: errors after which no session would go."""
    worked, nothing = _worked(), Judgement((), (), (), 0, 0, 0)
    cast = _cast(loaded, number, terms)
    account = cast.crew.account
    loop = begun(cast)
    outcome = Outcome(
        registration=loaded.checklist.registration,
        number=number,
        faults=tuple(map(str, cast.faults)),
        judgement=nothing,
        asked_again=0,
        length=0.0,
        ideal=silent_ideal(loaded.checklist),
        complete=False,
    )
    try:
        loop.play()
        outcome = replace(
            outcome,
            judgement=judge(loaded.checklist, account, loop.played.session, loop.played.summary),
            length=loop.played.seconds,
            complete=bool(loop.played.summary["complete"]),
            cut=loop.played.cut_off,
            work=_worked() - worked,
        )
    except passed_on:
        raise
    except Exception:
        told = traceback.format_exc().strip().splitlines()
        outcome = replace(outcome, crash="; ".join(line.strip() for line in told[-3:]))
    outcome = replace(outcome, asked_again=account.asked_again)
    if not outcome.is_wrong:
        return outcome
    evidence: dict[str, Any] = {"account": [asdict(entry) for entry in account.entries]}
    if loop.played.events:
        evidence["journal"] = replayed(loaded.checklist, loop.played.events)
    elif loop.played.lines:
        evidence |= {"played": loop.played, "talker": asdict(cast.talkers[0])}
    return replace(outcome, evidence=evidence)


@dataclass(slots=True)
class _Cast:
    crew: Crew
    faults: tuple[Fault, ...]
    chance: random.Random
    talkers: tuple[Talker, ...] = ()

    def voices(self, cache: Path) -> Voices:
        self.talkers = tuple(self.chance.sample(VOICES, 2))
        return Voices(self.talkers, cache)


def _cast(loaded: Loaded, number: int, terms: Terms) -> _Cast:
    checklist = loaded.checklist
    chance = random.Random(f"{terms.seed} {checklist.registration} {number}")
    faults = faults_of_session(terms.faults, checklist, chance, PROOF_FAULTS)
    aircraft = Aircraft(checklist, faults, chance.randrange(2**31))
    second = chance.random() < terms.two_crew
    channels = 2 if second and chance.random() < 0.5 else 1
    if second and terms.channels is not None:
        channels = terms.channels
    crew = Crew(checklist, aircraft, terms.manners, chance, second=second, channels=channels)
    return _Cast(crew, faults, chance)


def _worked() -> float:
    """Seconds of processor time of this process and of the programs that it ran."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system
