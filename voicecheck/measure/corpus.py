"""A manifest through the listeners of a session: every table of ``voicecheck measure corpus``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path

from voicecheck.errors import VoicecheckError
from voicecheck.language import Language
from voicecheck.measure.durations import (
    latency_table,
    load_table,
    placement_table,
    resident_megabytes,
    stages_table,
)
from voicecheck.measure.manifest import Line, read_manifest
from voicecheck.measure.table import Table
from voicecheck.measure.tally import (
    by_noise,
    by_voice,
    callouts_table,
    false_table,
    noise_table,
    words_table,
)
from voicecheck.measure.trial import LiveHearing, Task, Trial, in_order, in_pieces, run, tasks_of
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import HearingOptions
from voicecheck.speech.opening import new_endpointer
from voicecheck.world.processes import side_by_side

Tell = Callable[[str], None]


def chosen(path: Path, keep: Callable[[Line], bool]) -> tuple[Task, ...]:
    """The lines of a manifest that are wanted, checked. Raises VoicecheckError."""
    lines = [(number, line) for number, line in read_manifest(path) if keep(line)]
    if not lines:
        raise VoicecheckError(f"{path}: no line is left by --part and --noise; name others")
    return tasks_of(path, lines)


def live_hearing(language: Language, options: HearingOptions, cache: Path) -> LiveHearing:
    """The listeners of a session in that language. Raises VoicecheckError."""
    return LiveHearing(open_hearing(language, options, cache).ear, new_endpointer)


def hear_all(
    tasks: Sequence[Task], options: HearingOptions, cache: Path, tell: Tell, jobs: int = 1
) -> list[Trial]:
    """Every task, language by language, each with its own listeners.

    jobs: processes side by side; with more than one, times are those of a busy machine.
    """
    trials: list[Trial] = []
    for name in dict.fromkeys(task.loaded.language.name for task in tasks):
        of_language = in_order([t for t in tasks if t.loaded.language.name == name])
        language = of_language[0].loaded.language
        if jobs == 1:
            pieces: Iterable[Sequence[Trial]] = (
                (trial,) for trial in run(of_language, live_hearing(language, options, cache))
            )
        else:
            work = partial(_piece, language, options, cache)
            pieces = side_by_side(work, in_pieces(of_language), jobs)
        trials += _told(pieces, len(trials), len(tasks), tell)
    return trials


def _told(pieces: Iterable[Sequence[Trial]], before: int, of: int, tell: Tell) -> list[Trial]:
    trials: list[Trial] = []
    for piece in pieces:
        trials += piece
        if (before + len(trials)) % 100 < len(piece):
            tell(f"{before + len(trials)} of {of} recordings")
    return trials


def _piece(
    language: Language, options: HearingOptions, cache: Path, tasks: Sequence[Task]
) -> list[Trial]:
    return list(run(tasks, live_hearing(language, options, cache)))


def tables(trials: Sequence[Trial]) -> tuple[Table, ...]:
    """All tables of one run; those without rows are left out."""
    speech = [t for t in trials if t.line.of_kind != "noise"]
    made = (
        callouts_table(speech, "Callouts by noise", by_noise, "noise"),
        false_table(speech),
        noise_table(trials),
        callouts_table(speech, "Callouts by voice", by_voice, "voice"),
        words_table(trials),
        latency_table(speech),
        stages_table(speech),
        placement_table(speech),
        load_table(trials, resident_megabytes()),
    )
    return tuple(table for table in made if table.rows)
