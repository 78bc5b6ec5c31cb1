"""``voicecheck rehearse``: a simulated aircraft, for training, for show, and for proof."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from rich.console import Console

from voicecheck import __version__
from voicecheck.caution import CAUTION
from voicecheck.cli.groups import grouped
from voicecheck.cli.rehearse_live import as_student, watch
from voicecheck.cli.rehearse_options import Counted, Played, Seat
from voicecheck.cli.screen import print_line
from voicecheck.cli.screens import Screens
from voicecheck.cli.sound import Cockpit, Listeners
from voicecheck.cli.tables import show
from voicecheck.cli.whole_session import ResultAsJson
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.accumulate import Accumulated
from voicecheck.rehearsal.cast import airframes, manners_named
from voicecheck.rehearsal.evidence import about, journal_of, keep
from voicecheck.rehearsal.judge import Cause
from voicecheck.rehearsal.many import Task, live, sound
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms
from voicecheck.rehearsal.proving import fast, merged, tables, unkind, written
from voicecheck.rehearsal.search import search
from voicecheck.rehearsal.search import table as search_table
from voicecheck.rehearsal.tally import Tally, table
from voicecheck.rehearsal.training import progress_file
from voicecheck.session.options import HearingOptions, RunOptions, VoiceOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.settings import load_settings

EXIT_WRONG = 1
"""A dangerous miss, also by a careless yes, or a crash."""


@grouped
def rehearse(
    played: Played,
    counted: Counted,
    seat: Seat,
    screens: Screens,
    *,
    mute: Annotated[bool, typer.Option(help="Show prompts and horns, sound none.")] = False,
    log: Annotated[
        Path | None,
        typer.Option(
            envvar="VOICECHECK_REHEARSAL_LOG",
            help="With --as pilot, second: where sessions go, apart from real aircraft's.",
        ),
    ] = None,
    listeners: Listeners,
    as_json: ResultAsJson = False,
) -> None:
    """Rehearse with a simulated crew and aircraft, and count what the record makes of it.

    Exit status: 0, or 1 when something that was called bad, or not called, was logged as good
    (by a careless yes of the crew, too), or a session broke off with an error; 2 on bad input.
    """
    screen = Console(stderr=as_json, highlight=False)
    print_line(CAUTION, screen)
    hearing = listeners.options()
    played.check(live=counted.live)
    screens.check()
    if (screens.page or screens.terminal) and not seat.of_student:
        raise VoicecheckError("--kneeboard and --screen go with --as pilot or second; add it")
    if seat.part is None:
        seat.check_proof()
        counted.check(played)
        _prove(played, counted, hearing, screen, as_json=as_json)
    options = _options(played, seat, hearing, log, mute=mute)
    if seat.of_student:
        if played.people or played.channels:
            raise VoicecheckError(f"--as {seat.part}: leave out --people and --channels")
        as_student(seat, options, screen, screens, played.faults, counted.seed, as_json=as_json)
        return
    if seat.part != "watch":
        raise VoicecheckError(f"--as {seat.part}: unknown; choose pilot, second or watch")
    fine = watch(options, played, counted.seed, screen)
    raise typer.Exit(0 if fine else EXIT_WRONG)


def _options(
    played: Played, seat: Seat, hearing: HearingOptions, log: Path | None, *, mute: bool
) -> RunOptions:
    """The one session in which somebody takes part or looks on. Raises VoicecheckError."""
    if played.airframe is None:
        raise VoicecheckError(f"--as {seat.part} is one session; say which --airframe")
    cockpit = Cockpit(from_=seat.from_, headset=seat.headset, keys=False)
    return RunOptions(
        checklist=played.checklist,
        airframe=played.airframe,
        log=log or progress_file().with_name("rehearsals"),
        wav=seat.from_,
        rehearsed=True,
        microphone=seat.microphone,
        cockpit=cockpit.options(load_settings()),
        hearing=hearing,
        voice=VoiceOptions(speak=not mute, loudspeaker=seat.loudspeaker),
    )


def _prove(
    played: Played, counted: Counted, hearing: HearingOptions, screen: Console, *, as_json: bool
) -> NoReturn:
    """Simulated crews alone: play, judge, count, and exit with what that comes to."""
    if counted.proof:
        _prove_unkind(played, counted, screen, as_json=as_json)
    terms = Terms(
        played.faults, *manners_named(played.crew), counted.seed, channels=played.channels
    )
    if played.people is not None or counted.one_by_one:
        terms = replace(terms, two_crew=float(played.people == 2))

    def tell(outcome: Outcome) -> None:
        if counted.one_by_one:
            _tell_end(outcome, screen)
        _tell(outcome, counted.out, screen)

    tallies = dict(_tallies(played, counted, hearing, terms, tell))
    of = _of(played.people, played.channels)
    title = f"rehearsal: {played.crew} crew{of}, faults {played.faults}, seed {counted.seed}"
    show([table(title, tallies)], as_json=as_json)
    raise typer.Exit(EXIT_WRONG if any(map(_is_wrong, tallies.values())) else 0)


def _is_wrong(tally: Tally) -> bool:
    others = (cause for cause in Cause if cause is not Cause.CREW)
    return bool(tally.crashes or tally.wrong("any", *others))


def _prove_unkind(played: Played, counted: Counted, screen: Console, *, as_json: bool) -> NoReturn:
    """Every behaviour that a proof has, counted with what came of it."""
    crew = played.crew if played.crew != "steady" else "unkind"
    terms = unkind(crew, counted.seed, counted.inattention, counted.without)
    terms = replace(terms, faults=played.faults)

    def tell(outcome: Outcome) -> None:
        if outcome.crash or outcome.judgement.dangerous:
            _tell(outcome, counted.out, screen)

    if counted.merge:
        tally = merged(counted.merge)
    else:
        cast = airframes(played.checklist, played.airframe)
        tally = fast(cast, counted.sessions, terms, counted.jobs, tell)
    if counted.into is not None:
        facts = {"checklist": played.checklist, "airframe": played.airframe, "crew": crew}
        facts |= {"seed": str(counted.seed), "sessions": str(counted.sessions)}
        facts |= {"without": counted.without, "inattention": str(counted.inattention)}
        written(counted.into, facts, tally)
    title = f"proof: {crew} crew, faults {played.faults}, seed {counted.seed}"
    shown = [*tables(title, tally)]
    if counted.search is not None:
        cast = airframes(played.checklist, played.airframe)
        levels = search(cast, counted.search, terms, counted.jobs)
        shown.append(search_table("search: nearest to danger, and from there again", [*levels]))
    show(shown, as_json=as_json)
    blamed = tally.wrong("any", Cause.ENGINE, Cause.HEARING)
    raise typer.Exit(EXIT_WRONG if blamed or tally.crashes else 0)


def _tallies(
    played: Played,
    counted: Counted,
    hearing: HearingOptions,
    terms: Terms,
    tell: Callable[[Outcome], None],
) -> Iterator[tuple[str, Tally]]:
    cast = airframes(played.checklist, played.airframe)
    if counted.live:
        yield "live", live(Task(cast, terms, hearing, cache_dir()), counted.sessions, tell)
        return
    if not counted.sound:
        yield "words alone", fast(cast, counted.sessions, terms, counted.jobs or 1, tell)
        return
    jobs = counted.jobs or 1
    if jobs > 1:
        hearing = replace(hearing, threads=1)
    file: Accumulated | None = None
    if counted.kept_in is not None:
        file = Accumulated(counted.kept_in, _in_common(played, counted.seed, hearing))
    levels: list[float | None] = [*played.noise] if played.noise else [None]
    for db in levels:
        name = "sound, quiet" if db is None else f"sound, {db:g} dB"
        task = Task(cast, terms, hearing, cache_dir(), db)
        yield name, sound(task, counted.sessions, jobs, tell, file)


def _of(people: int | None, channels: int | None) -> str:
    """How many people the title of a table speaks of."""
    if people is None:
        return ""
    microphones = {None: "", 1: " at one microphone", 2: " with a microphone each"}[channels]
    return f" of {people}{microphones}"


def _in_common(played: Played, seed: int, hearing: HearingOptions) -> dict[str, object]:
    """What the sessions of one file have in common."""
    return {
        "checklist": played.checklist,
        "airframe": played.airframe,
        "crew": played.crew,
        "seed": seed,
        "people": played.people,
        "channels": played.channels,
        "faults": played.faults,
        "listener": hearing.listener,
        "voicecheck": __version__,
        "model": None if hearing.model is None else str(hearing.model),
        "second listener": hearing.second,
    }


def _where(outcome: Outcome) -> str:
    return f"{outcome.registration} session {outcome.number}"


def _tell_end(outcome: Outcome, screen: Console) -> None:
    end = "complete" if outcome.complete else "not complete"
    asked = f"asked again {outcome.asked_again}, {outcome.length:.0f} s in {outcome.work:.0f}"
    print_line(f"            {_where(outcome)}: {end}, {asked}", screen, "dim")


def _tell(outcome: Outcome, out: Path, screen: Console) -> None:
    judged = outcome.judgement
    where = _where(outcome)
    own = tuple(w for w in judged.good if w.cause is Cause.CREW)
    told = (
        ("DANGEROUS   ", judged.dangerous, "bold"),
        ("CARELESS    ", judged.careless, "bold"),
        ("crew's own  ", own, ""),
        ("false       ", judged.false_findings, ""),
        ("otherwise   ", judged.otherwise, ""),
    )
    for head, found, style in told:
        for wrong in found:
            print_line(f"{head}{where}: {wrong.item}: {wrong.why}", screen, style)
    if outcome.crash:
        print_line(f"CRASH       {where}: {outcome.crash}", screen, "bold")
    if outcome.cut:
        print_line(f"CUT         {where}: ended after {outcome.length:.0f} s by the loop", screen)
    for wrong in (*judged.dangerous, *judged.careless):
        for line in about(journal_of(outcome), wrong.item):
            print_line(f"            {line}", screen, "dim")
    if outcome.is_wrong:
        print_line(f"            kept as {keep(outcome, out)}", screen)
