"""One session with random faults, played and judged.

What is counted comes from the crew's own account (rehearsal.judge). Every session depends on
its seed alone, so any of them can be played again.
"""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any, Final, Protocol

from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.resolved import Checklist, Shows
from voicecheck.rehearsal.behaviours import came_of
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.evidence import replayed
from voicecheck.rehearsal.fast import FastLoop
from voicecheck.rehearsal.forked import Forked, Forks
from voicecheck.rehearsal.judge import Judgement, judge
from voicecheck.rehearsal.manners import Ears, Manners
from voicecheck.rehearsal.near_wordings import near_wordings
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.played import Played
from voicecheck.world.aircraft import SETTLED, Aircraft
from voicecheck.world.faults import PROOF_FAULTS, Fault, faults_of_session

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
    without: str | None = None
    """Number of the row of the engine's rules that is taken away."""
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


def play_fast(
    loaded: Loaded,
    number: int,
    terms: Terms,
    forks: Forks = (),
    kind: type[FastLoop] = FastLoop,
    told: Callable[[FastLoop], None] = lambda loop: None,
) -> Outcome:
    """One session without sound. told: gets the loop of it before it is played."""
    if terms.without is not None:
        _lacking(terms.without)

    def begun(cast: Cast) -> FastLoop:
        near = near_wordings(loaded) if terms.ears.misheard else {}
        loop = kind(loaded.checklist, cast.crew, terms.ears, cast.chance, near)
        told(loop)
        return loop

    return played(loaded, number, terms, begun, (), forks)


@lru_cache(maxsize=1)
def _lacking(row: str) -> None:
    """Take a row of the rules away, for good: this process is there for that alone."""
    from voicecheck.measure.lacking import drop

    drop(row, setattr)


class Loop(Protocol):
    """A session that can be played. played: what is left of it, also after an error."""

    played: Played

    def play(self) -> Played:
        """The whole of it."""


def played(
    loaded: Loaded,
    number: int,
    terms: Terms,
    begun: Callable[[Cast], Loop],
    passed_on: type[Exception] | tuple[()],
    forks: Forks = (),
) -> Outcome:
    """One session, counted. passed_on: errors after which no session would go."""
    worked = _worked()
    cast = cast_of(loaded, number, terms, forks)
    account = cast.crew.account
    loop = begun(cast)
    outcome = Outcome(
        registration=loaded.checklist.registration,
        number=number,
        faults=tuple(map(str, cast.faults)),
        judgement=Judgement(),
        asked_again=0,
        length=0.0,
        ideal=silent_ideal(loaded.checklist),
        complete=False,
    )
    try:
        loop.play()
        session, summary = loop.played.session, loop.played.summary
        judged = judge(loaded.checklist, account, session, summary)
        outcome = replace(
            outcome,
            judgement=judged,
            behaviours=came_of(account, session, summary, judged),
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
class Cast:
    """Who plays one session. talkers: their voices, where they have any."""

    crew: Crew
    faults: tuple[Fault, ...]
    chance: Forked
    talkers: tuple[Any, ...] = ()


def cast_of(loaded: Loaded, number: int, terms: Terms, forks: Forks = ()) -> Cast:
    """The crew and the aircraft of one session."""
    checklist = loaded.checklist
    chance = Forked(f"{terms.seed} {checklist.registration} {number}", forks)
    faults = faults_of_session(terms.faults, checklist, chance, PROOF_FAULTS)
    aircraft = Aircraft(checklist, faults, chance.randrange(2**31))
    second = chance.random() < terms.two_crew
    channels = 2 if second and chance.random() < 0.5 else 1
    if second and terms.channels is not None:
        channels = terms.channels
    crew = Crew(checklist, aircraft, terms.manners, chance, second=second, channels=channels)
    return Cast(crew, faults, chance)


def _worked() -> float:
    """Seconds of processor time of this process and of the programs that it ran."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system
