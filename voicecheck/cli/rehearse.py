"""``voicecheck rehearse``: a simulated aircraft, for training, for show, and for proof."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck import __version__
from voicecheck.caution import CAUTION
from voicecheck.cli.rehearse_live import as_student, watch
from voicecheck.cli.run import Listener, Model, Second, hearing_options
from voicecheck.cli.screens import (
    DEFAULT_PORT,
    Address,
    OnPage,
    OnScreen,
    Pair,
    Port,
    Screens,
    Stay,
)
from voicecheck.cli.sound import Headset, cockpit_options
from voicecheck.cli.tables import show
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.accumulate import Accumulated
from voicecheck.rehearsal.cast import airframes, manners_named
from voicecheck.rehearsal.evidence import about, journal_of, keep
from voicecheck.rehearsal.many import Task, fast, live, sound
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms
from voicecheck.rehearsal.tally import Tally, table
from voicecheck.rehearsal.training import progress_file
from voicecheck.session.options import HearingOptions, RunOptions, VoiceOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.settings import load_settings

EXIT_WRONG = 1
"""A dangerous miss, also by a careless yes, or a crash."""


def rehearse(
    checklist: Annotated[
        str, typer.Argument(help="A type file (YAML), a shipped id, or all for every shipped one.")
    ],
    airframe: Annotated[
        str | None, typer.Option(metavar="REG", help="Registration; without it every airframe.")
    ] = None,
    faults: Annotated[
        str,
        typer.Option(
            help="KIND:TARGET[~SHARE],... or random:N; random takes up to four each session."
        ),
    ] = "random",
    crew: Annotated[
        str, typer.Option(metavar="perfect|steady|unruly", help="How the simulated crew behaves.")
    ] = "steady",
    people: Annotated[
        int | None,
        typer.Option(
            min=1, max=2, help="In the crew: two read marked items back. Words alone: both kinds."
        ),
    ] = None,
    channels: Annotated[
        int | None,
        typer.Option(
            min=1, max=2, help="With --people 2: one microphone, or one each. Words alone: both."
        ),
    ] = None,
    noise: Annotated[
        list[float] | None,
        typer.Option(
            metavar="DB",
            help="With --sound or --as watch: speech over noise; again for more levels.",
        ),
    ] = None,
    through_sound: Annotated[
        bool, typer.Option("--sound", help="Through synthetic voices and the listeners.")
    ] = False,
    in_real_time: Annotated[
        bool,
        typer.Option(
            "--live", help="In real time: a whole session on a sound card made of software."
        ),
    ] = False,
    seed: Annotated[int, typer.Option(help="The same seed gives the same sessions.")] = 1,
    sessions: Annotated[int, typer.Option(min=1, help="How many, at each noise level.")] = 1,
    jobs: Annotated[int, typer.Option(min=1, help="Sessions side by side, as of processors.")] = 1,
    kept_in: Annotated[
        Path | None,
        typer.Option(
            "--keep",
            metavar="FILE.jsonl",
            help="With --sound: keep each session as it ends; start again to go on.",
        ),
    ] = None,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where what went wrong is kept.")] = Path(
        "out/rehearsal"
    ),
    part: Annotated[
        str | None,
        typer.Option(
            "--as",
            metavar="pilot|second|watch",
            help="Call yourself, read back to a simulated pilot, or look on; one session.",
        ),
    ] = None,
    student: Annotated[
        str, typer.Option(help="With --as pilot, second: whose progress.")
    ] = "student",
    progress: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Progress; default: the user's state files.")
    ] = None,
    from_: Annotated[
        Path | None, typer.Option("--from", metavar="FILE.wav", help="With --as pilot, second.")
    ] = None,
    microphone: Annotated[
        str | None, typer.Option(metavar="NAME", help="With --as pilot, second.")
    ] = None,
    loudspeaker: Annotated[
        str | None, typer.Option(metavar="NAME", help="With --as pilot, second.")
    ] = None,
    headset: Headset = None,
    kneeboard: OnPage = False,
    on_screen: OnScreen = False,
    address: Address = None,
    port: Port = DEFAULT_PORT,
    pair: Pair = False,
    stay: Stay = False,
    mute: Annotated[bool, typer.Option(help="Show prompts and horns, sound none.")] = False,
    log: Annotated[
        Path | None,
        typer.Option(
            envvar="VOICECHECK_REHEARSAL_LOG",
            help="With --as pilot, second: where sessions go, apart from real aircraft's.",
        ),
    ] = None,
    listener: Listener = "pocketsphinx",
    model: Model = None,
    second_listener: Second = "auto",
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON result on standard output; text on error.")
    ] = False,
) -> None:
    """Rehearse with a simulated crew and aircraft, and count what the record makes of it.

    Exit status: 0, or 1 when something that was called bad, or not called, was logged as good
    (by a careless yes of the crew, too), or a session broke off with an error; 2 on bad input.
    """
    screen = Console(stderr=as_json, highlight=False)
    screen.print(Text(CAUTION), soft_wrap=True)
    hearing = hearing_options(listener, model, second_listener)
    if channels is not None and people != 2:
        raise VoicecheckError("--channels goes with --people 2; add it")
    if channels == 2 and in_real_time:
        raise VoicecheckError("--live has one microphone; leave out --channels 2, or use --sound")
    screens = Screens(kneeboard, on_screen, address, port, pair, stay)
    if (kneeboard or on_screen) and part not in ("pilot", "second"):
        raise VoicecheckError("--kneeboard and --screen go with --as pilot or second; add it")
    if part is not None:
        if airframe is None:
            raise VoicecheckError(f"--as {part} is one session; say which --airframe")
        cockpit = cockpit_options(
            load_settings(),
            live=from_ is None,
            headset=headset,
            channels=None,
            talk_key=None,
            keys=False,
            deaf=False,
        )
        options = RunOptions(
            checklist=checklist,
            airframe=airframe,
            log=log or progress_file().with_name("rehearsals"),
            wav=from_,
            microphone=microphone,
            cockpit=cockpit,
            hearing=hearing,
            voice=VoiceOptions(speak=not mute, loudspeaker=loudspeaker),
        )
        if part in ("pilot", "second"):
            if people or channels:
                raise VoicecheckError(f"--as {part}: leave out --people and --channels")
            kept = progress or progress_file()
            as_student(
                part,
                options,
                screen,
                screens,
                faults=faults,
                seed=seed,
                student=student,
                progress=kept,
                as_json=as_json,
            )
            return
        if part != "watch":
            raise VoicecheckError(f"--as {part}: unknown; choose pilot, second or watch")
        db = noise[0] if noise else None
        fine = watch(
            options,
            screen,
            hearing,
            faults=faults,
            crew_name=crew,
            noise_db=db,
            seed=seed,
            people=people or 1,
            channels=channels or 1,
        )
        raise typer.Exit(0 if fine else EXIT_WRONG)
    if any(given is not None for given in (from_, microphone, loudspeaker, progress)):
        raise VoicecheckError(
            "--from, --microphone, --loudspeaker, --progress go with --as pilot or second; add it"
        )
    if noise and not through_sound:
        raise VoicecheckError("--noise goes with --sound or --as watch; add one of them")
    if in_real_time and (through_sound or jobs > 1):
        raise VoicecheckError("--live goes alone, one session at a time; leave out --sound, --jobs")
    if kept_in is not None and not through_sound:
        raise VoicecheckError("--keep goes with --sound; add it")
    terms = Terms(faults, *manners_named(crew), seed, channels=channels)
    if people is not None or through_sound or in_real_time:
        terms = replace(terms, two_crew=float(people == 2))
    cast = airframes(checklist, airframe)

    def tell(outcome: Outcome) -> None:
        if through_sound or in_real_time:
            end = "complete" if outcome.complete else "not complete"
            asked = (
                f"asked again {outcome.asked_again}, {outcome.length:.0f} s in {outcome.work:.0f}"
            )
            where = f"{outcome.registration} session {outcome.number}"
            screen.print(Text(f"            {where}: {end}, {asked}", "dim"))
        _tell(outcome, out, screen)

    tallies: dict[str, Tally] = {}
    if through_sound:
        levels: list[float | None] = [*noise] if noise else [None]
        if jobs > 1:
            hearing = replace(hearing, threads=1)
        file: Accumulated | None = None
        if kept_in is not None:
            played = {"checklist": checklist, "airframe": airframe, "crew": crew, "seed": seed}
            played |= {"people": people, "channels": channels}
            file = Accumulated(kept_in, {**played, "faults": faults, **_listeners(hearing)})
        for db in levels:
            name = "sound, quiet" if db is None else f"sound, {db:g} dB"
            task = Task(cast, terms, hearing, cache_dir(), db)
            tallies[name] = sound(task, sessions, jobs, tell, file)
    elif in_real_time:
        task = Task(cast, terms, hearing, cache_dir())
        tallies["live"] = live(task, sessions, tell)
    else:
        tallies["words alone"] = fast(cast, sessions, terms, jobs, tell)
    title = f"rehearsal: {crew} crew{_of(people, channels)}, faults {faults}, seed {seed}"
    show([table(title, tallies)], as_json=as_json)
    wrong = sum(tally.dangerous + tally.careless + tally.crashes for tally in tallies.values())
    raise typer.Exit(EXIT_WRONG if wrong else 0)


def _of(people: int | None, channels: int | None) -> str:
    """How many people the title of a table speaks of."""
    if people is None:
        return ""
    microphones = {None: "", 1: " at one microphone", 2: " with a microphone each"}[channels]
    return f" of {people}{microphones}"


def _listeners(hearing: HearingOptions) -> dict[str, str | None]:
    """What the sessions of one file have in common besides their crew."""
    model = None if hearing.model is None else str(hearing.model)
    second = hearing.second
    heard = {"listener": hearing.listener, "voicecheck": __version__}
    return {**heard, "model": model, "second listener": second}


def _tell(outcome: Outcome, out: Path, screen: Console) -> None:
    judged = outcome.judgement
    where = f"{outcome.registration} session {outcome.number}"
    for wrong in judged.dangerous:
        screen.print(Text(f"DANGEROUS   {where}: {wrong.item}: {wrong.why}", "bold"))
    for wrong in judged.careless:
        screen.print(Text(f"CARELESS    {where}: {wrong.item}: {wrong.why}", "bold"))
    for wrong in judged.false_findings:
        screen.print(Text(f"false       {where}: {wrong.item}: {wrong.why}"))
    for wrong in judged.otherwise:
        screen.print(Text(f"otherwise   {where}: {wrong.item}: {wrong.why}"))
    if outcome.crash:
        screen.print(Text(f"CRASH       {where}: {outcome.crash}", "bold"), soft_wrap=True)
    if outcome.cut:
        screen.print(Text(f"CUT         {where}: ended after {outcome.length:.0f} s by the loop"))
    for wrong in (*judged.dangerous, *judged.careless):
        for line in about(journal_of(outcome), wrong.item):
            screen.print(Text(f"            {line}", "dim"), soft_wrap=True)
    if outcome.is_wrong:
        screen.print(Text(f"            kept as {keep(outcome, out)}"), soft_wrap=True)
