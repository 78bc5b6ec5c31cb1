"""The parts of ``voicecheck rehearse`` in which somebody takes part or looks on."""

from __future__ import annotations

import random
from dataclasses import asdict

from rich.console import Console
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.cli.rehearse_options import Played, Seat
from voicecheck.cli.screen import print_json, print_line
from voicecheck.cli.screens import Screens, run_on
from voicecheck.display.board import Board
from voicecheck.display.console import ConsoleDisplay
from voicecheck.rehearsal.cast import manners_named
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.judge import judge
from voicecheck.rehearsal.second import train_second
from voicecheck.rehearsal.sound import SoundLoop
from voicecheck.rehearsal.trainer import Showing
from voicecheck.rehearsal.training import Lesson, Room, Trained, progress_file, train
from voicecheck.session.display import Display
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import RunOptions
from voicecheck.session.places import cache_dir
from voicecheck.session.run import Finished, load
from voicecheck.session.touches import Touches
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import faults_from
from voicecheck.world.microphones import in_pink_noise
from voicecheck.world.sound import Fittings
from voicecheck.world.voices import VOICES, Voices


class Teller:
    """Shows the aircraft as lines between those of the session; none where it is drawn."""

    def __init__(self, screen: Console, *, drawn: bool = False) -> None:
        self._screen = screen
        self._drawn = drawn

    def __call__(self, at: float, text: str) -> None:
        """One line."""
        if self._drawn:
            return
        minutes, seconds = divmod(at, 60)
        line = f"{int(minutes):3d}:{seconds:04.1f} aircraft {text}"
        print_line(line, self._screen, "dim")


def as_student(
    seat: Seat,
    options: RunOptions,
    screen: Console,
    screens: Screens,
    faults: str,
    seed: int,
    *,
    as_json: bool,
) -> None:
    """A student calls, or reads back; marks and progress are shown at the end."""
    begin = train_second if seat.part == "second" else train
    board, done = Board(), []

    def work(display: Display, touches: Touches) -> Finished:
        teller = Teller(screen, drawn=screens.terminal)
        room = Room(display, teller, touches, board.cockpit)
        lesson = Lesson(faults, seed, seat.student, seat.progress or progress_file())
        trained = begin(options, cache_dir(), lesson, room)
        done.append(trained)
        return trained.finished

    run_on(screens, ConsoleDisplay(screen), options.log, work, board)
    (trained,) = done
    if as_json:
        before = [{"started": m.started, "score": round(m.score, 3)} for m in trained.earlier]
        facts = {
            "caution": CAUTION,
            "marks": {**asdict(trained.marks), "score": round(trained.marks.score, 3)},
            "calls": [asdict(mark) for mark in trained.calls],
            "earlier": before,
            "session": trained.finished.summary["session"],
        }
        print_json(facts)
    _tell_marks(trained, screen)


def _tell_marks(trained: Trained, screen: Console) -> None:
    marks = trained.marks
    lines = [f"{marks.student}: {marks.right} of {marks.items} items called as they were"]
    lines += [f"  fault        {fault}" for fault in trained.faults]
    named = (
        ("missed", marks.missed),
        ("false alarm", marks.false_alarms),
        ("left out", marks.left_out),
    )
    lines += [f"  {what:12s} {item}" for what, items in named for item in items]
    if marks.seconds is not None:
        lines.append(f"  from showing to calling: {marks.seconds:.1f} s (the middle of all)")
    slow = sorted((m for m in trained.calls if m.seconds), key=lambda m: m.seconds or 0)[-3:]
    lines += [f"  slow         {m.item}: {m.seconds:.1f} s" for m in reversed(slow)]
    scores = [f"{m.score:.0%}" for m in (*trained.earlier, marks)]
    lines.append(f"  progress     {' '.join(scores[-10:])}")
    screen.print()
    for line in lines:
        print_line(line, screen)
    print_line(CAUTION, screen)


def watch(options: RunOptions, played: Played, seed: int, screen: Console) -> bool:
    """A simulated crew on a simulated aircraft, shown; whether nothing bad was logged as good."""
    loaded = load(options)
    chance = random.Random(seed)
    text = f"random:{chance.randint(1, 3)}" if played.faults == "random" else played.faults
    aircraft = Aircraft(loaded.checklist, faults_from(text, loaded.checklist, chance), seed)
    manners = manners_named(played.crew)[0]
    two, channels = played.people == 2, played.channels or 1
    crew = Crew(loaded.checklist, aircraft, manners, chance, second=two, channels=channels)
    ears = [open_hearing(loaded.language, options.hearing, cache_dir()) for _ in range(channels)]
    display = ConsoleDisplay(screen)
    for fault in aircraft.faults:
        display.notice(f"fault: {fault}")
    voices = Voices(tuple(chance.sample(VOICES, 2)), cache_dir())
    noise_db = played.noise[0] if played.noise else None
    microphones = in_pink_noise(channels, noise_db, seed)
    fittings = Fittings(display=display, tick=Showing(aircraft, Teller(screen)))
    loop = SoundLoop(loaded, crew, ears, voices, microphones, fittings)
    done = loop.play()
    judged = judge(loaded.checklist, crew.account, done.session, done.summary)
    screen.print()
    line = f"called bad: {judged.called_bad}; logged: {judged.found}; misread by the crew: "
    careless = f"by a careless yes: {len(judged.careless)}"
    missed = f"dangerous misses: {len(judged.dangerous)}"
    screen.print(Text(f"{line}{judged.misread}; {missed}; {careless}"))
    print_line(CAUTION, screen)
    for wrong in (*judged.dangerous, *judged.careless):
        print_line(f"  {wrong.item}: {wrong.why}", screen, "bold")
    return not judged.dangerous and not judged.careless
