"""``voicecheck measure`` of hearing: what may be said, and what is made of it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.checklist.loader import load_checklist
from voicecheck.cli.groups import grouped
from voicecheck.cli.screen import print_line, write_text
from voicecheck.cli.sound import Listeners
from voicecheck.cli.tables import AsJson, show
from voicecheck.errors import VoicecheckError
from voicecheck.measure.calibrate import calibrate as fitted
from voicecheck.measure.calibrate import written
from voicecheck.measure.corpus import chosen, hear_all, tables
from voicecheck.measure.make_corpus import FULL, MANIFEST, Plan, make_part, write_manifest
from voicecheck.measure.manifest import Line
from voicecheck.measure.offered import states_of
from voicecheck.measure.peers_table import answers, draw, peers_table
from voicecheck.measure.trial import Task, trial_json
from voicecheck.session.places import cache_dir
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech.calibration import read_calibrations
from voicecheck.world.talkers import Part, talkers_of

AIRFRAMES = ("tarn-40:ZZ-HAA", "tarn-40:ZZ-HAC", "skerry-j2:ZZ-HJA", "skerry-j2:ZZ-HJD")
"""Shipped airframes that between them have every position and every kind of window."""

PartOption = Annotated[
    str, typer.Option("--part", metavar="calibration|test|all", help="Which talkers.")
]


@dataclass(frozen=True, slots=True)
class OfCorpus:
    """Which recordings."""

    manifest: Annotated[
        Path | None,
        typer.Argument(help="A JSONL manifest; default: that of make-corpus in the cache."),
    ] = None
    part: PartOption = "all"
    noise: Annotated[
        str | None, typer.Option("--noise", help="Only recordings with this noise label.")
    ] = None

    def tasks(self, aim: str | None = None) -> tuple[Task, ...]:
        """The recordings. Raises VoicecheckError."""
        return chosen(
            self.manifest or corpus_folder() / MANIFEST, keeper(self.part, self.noise, aim)
        )

    def speech(self, aim: str | None = None) -> tuple[Task, ...]:
        """Those in which somebody speaks."""
        return tuple(task for task in self.tasks(aim) if task.line.of_kind != "noise")


@dataclass(frozen=True, slots=True)
class OfCalibration(OfCorpus):
    """The calibration part, unless another is named."""

    part: PartOption = "calibration"


@dataclass(frozen=True, slots=True)
class OfTest(OfCorpus):
    """The test part, unless another is named."""

    part: PartOption = "test"


AimOption = Annotated[
    str | None,
    typer.Option(
        "--aim",
        metavar="any|good",
        help="Only sentences about any callout, or about those that close something as good.",
    ),
]


def callouts(
    checklist: Annotated[str, typer.Argument(help="A type file (YAML), or a shipped id.")],
    airframe: Annotated[str, typer.Option(metavar="REG", help="Registration of the airframe.")],
    as_json: AsJson = False,
) -> None:
    """Every state of a checklist with the callouts that can be said in it."""
    loaded = load_checklist(checklist, airframe, shipped=checklists_dir(), grammars=grammars_dir())
    states = states_of(loaded.checklist)
    if as_json:
        typer.echo(json.dumps([s.as_json() for s in states], ensure_ascii=False, indent=2))
        return
    screen = Console(highlight=False)
    for state in states:
        screen.print(Text(state.name, "bold"))
        for callout in state.callouts:
            print_line(f"  {callout.key:28s} {' | '.join(callout.phrases)}", screen)


def make_corpus(
    folder: Annotated[
        Path | None, typer.Argument(help="Where to write; default: the user's cache.")
    ] = None,
    airframe: Annotated[
        list[str] | None,
        typer.Option(metavar="CHECKLIST:REG", help="Repeat for several; default: four shipped."),
    ] = None,
    talkers: Annotated[
        int | None, typer.Option(min=1, help="At most so many talkers in each part.")
    ] = None,
    each: Annotated[
        float, typer.Option(min=0.01, help="Sentences by each talker, as a share of the usual.")
    ] = 1.0,
    noise_hours: Annotated[
        float | None, typer.Option(min=0, help="Hours of noise alone; default: 1 in the test.")
    ] = None,
    part: PartOption = "all",
    seed: Annotated[int, typer.Option(help="The same seed makes the same corpus.")] = 1,
) -> None:
    """Render synthetic crews with and without noise, and a manifest of what they say.

    Needs espeak-ng, flite, festival and their voices. A full corpus takes about ten minutes
    and 500 MB. No talker of the calibration part is in the test part.
    """
    folder = folder or corpus_folder()
    airframes = {}
    for named in airframe or AIRFRAMES:
        checklist, _, registration = named.rpartition(":")
        if not checklist:
            raise VoicecheckError(f"--airframe {named}: write CHECKLIST:REG, as {AIRFRAMES[0]}")
        airframes[checklist, registration] = load_checklist(
            checklist, registration, shipped=checklists_dir(), grammars=grammars_dir()
        )
    lines: list[Line] = []
    for name in parts(part):
        size = FULL[name]
        counts, good = (
            {kind: max(1, round(n * each)) for kind, n in of.items()}
            for of in (size.sentences, size.good)
        )
        hours = size.noise_hours if noise_hours is None else noise_hours
        size = replace(size, sentences=counts, good=good, noise_hours=hours)
        plan = Plan(name, talkers_of(name, talkers), airframes, size, seed)
        lines += make_part(plan, folder, _teller())
    typer.echo(f"{write_manifest(lines, folder)}: {len(lines)} recordings")


@grouped
def corpus(
    recordings: OfCorpus,
    *,
    aim: AimOption = None,
    listeners: Listeners,
    trials: Annotated[
        Path | None,
        typer.Option(metavar="OUT.jsonl", help="Also write what became of each recording."),
    ] = None,
    jobs: Annotated[
        int, typer.Option(min=1, help="Processes side by side; times count with one alone.")
    ] = 1,
    as_json: AsJson = False,
) -> None:
    """Play recordings to the listeners of a session and count what comes of them.

    Each line of the manifest: {"audio": path, "checklist": path or id, "airframe": REG,
    "state": name, "said": callout or null, "noise": label, "end_s": end of speech}, and where
    known "start_s", "text", "voice", "kind" and "part".
    """
    options = listeners.options()
    heard = hear_all(recordings.tasks(aim), options, cache_dir(), _teller(), jobs)
    if trials is not None:
        lines = "".join(json.dumps(trial_json(trial)) + "\n" for trial in heard)
        write_text(trials, lines, "name another file")
    show(tables(heard), as_json=as_json)


@grouped
def calibrate(
    output: Annotated[Path, typer.Argument(help="The calibration file to write (JSON).")],
    recordings: OfCalibration,
    listeners: Listeners,
    beside: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Keep its sets that are not fitted now."),
    ] = None,
) -> None:
    """Fit acceptance to the calibration part of a corpus, for each set of listeners.

    With --second-listener moonshine for the sets of that listener alone, which takes a third of
    the time.

    The file that this writes from the full corpus is shipped as speech/calibration.json.
    """
    options = listeners.options()
    kept = None if beside is None else read_calibrations(beside)
    tasks = recordings.speech()
    found = fitted(tasks, options, cache_dir(), _teller())
    named = f"{listeners.listener}, second {listeners.second_listener}"
    write_text(output, written(found, tasks, named, kept), "name another file")


@grouped
def peers(
    recordings: OfTest,
    *,
    aim: AimOption = None,
    picture: Annotated[
        Path | None, typer.Option(metavar="OUT.png", help="Also draw the curves.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Our listeners and other ways to hear, side by side on the same utterances."""
    given = answers(recordings.speech(aim), cache_dir(), _teller())
    if picture is not None:
        draw(given, picture)
    show([peers_table(given)], as_json=as_json)


def corpus_folder() -> Path:
    """Where a corpus is kept unless the user names a folder."""
    return cache_dir() / "corpus"


def parts(named: str) -> tuple[Part, ...]:
    """The parts that --part names. Raises VoicecheckError."""
    match named:
        case "all":
            return ("calibration", "test")
        case "calibration" | "test":
            return (named,)
    raise VoicecheckError(f"--part {named}: choose calibration, test or all")


def keeper(part: str, noise: str | None, aim: str | None = None) -> Callable[[Line], bool]:
    """Whether a line is wanted. Noise alone is of no noise label but its own.

    Raises VoicecheckError.
    """
    wanted = parts(part)
    if aim not in (None, "any", "good"):
        raise VoicecheckError(f"--aim {aim}: choose any or good")

    def keep(line: Line) -> bool:
        of_part = part == "all" or line.part in wanted
        return of_part and noise in (None, line.noise) and aim in (None, line.aim)

    return keep


def _teller() -> Callable[[str], None]:
    screen = Console(stderr=True, highlight=False)
    return lambda text: print_line(text, screen)
