"""The options of ``voicecheck rehearse``: what is played, how it counts, and a student's own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from voicecheck.cli.sound import Headset
from voicecheck.errors import VoicecheckError

OfStudent = Annotated[str | None, typer.Option(metavar="NAME", help="With --as pilot, second.")]


@dataclass(frozen=True, slots=True)
class Played:
    """Aircraft, faults and crew."""

    checklist: Annotated[
        str, typer.Argument(help="A type file (YAML), a shipped id, or all for every shipped one.")
    ]
    airframe: Annotated[
        str | None, typer.Option(metavar="REG", help="Registration; without it every airframe.")
    ] = None
    faults: Annotated[
        str,
        typer.Option(
            help="KIND:TARGET[~SHARE],... or random:N; random takes up to four each session."
        ),
    ] = "random"
    crew: Annotated[
        str, typer.Option(metavar="perfect|steady|unruly", help="How the simulated crew behaves.")
    ] = "steady"
    people: Annotated[
        int | None,
        typer.Option(
            min=1, max=2, help="In the crew: two read marked items back. Words alone: both kinds."
        ),
    ] = None
    channels: Annotated[
        int | None,
        typer.Option(
            min=1, max=2, help="With --people 2: one microphone, or one each. Words alone: both."
        ),
    ] = None
    noise: Annotated[
        list[float] | None,
        typer.Option(
            metavar="DB",
            help="With --sound or --as watch: speech over noise; again for more levels.",
        ),
    ] = None

    def check(self, *, live: bool) -> None:
        """Raise VoicecheckError for what does not go together."""
        if self.channels is not None and self.people != 2:
            raise VoicecheckError("--channels goes with --people 2; add it")
        if self.channels == 2 and live:
            raise VoicecheckError(
                "--live has one microphone; leave out --channels 2, or use --sound"
            )


@dataclass(frozen=True, slots=True)
class Counted:
    """Through what the sessions go, and how many there are."""

    sound: Annotated[
        bool, typer.Option("--sound", help="Through synthetic voices and the listeners.")
    ] = False
    live: Annotated[
        bool,
        typer.Option(
            "--live", help="In real time: a whole session on a sound card made of software."
        ),
    ] = False
    seed: Annotated[int, typer.Option(help="The same seed gives the same sessions.")] = 1
    sessions: Annotated[int, typer.Option(min=1, help="How many, at each noise level.")] = 1
    jobs: Annotated[
        int | None,
        typer.Option(
            min=1, help="Sessions side by side; without it one, with --proof one a processor."
        ),
    ] = None
    proof: Annotated[
        bool,
        typer.Option("--proof", help="An unkind world, words alone: what was wrong, and by whom."),
    ] = False
    inattention: Annotated[
        float | None,
        typer.Option(min=0, max=1, help="With --proof: share of the prompts that nobody hears."),
    ] = None
    without: Annotated[
        str | None,
        typer.Option(
            metavar="ROW", help="With --proof: on an engine that lacks a row of its rules."
        ),
    ] = None
    into: Annotated[
        Path | None,
        typer.Option(metavar="FILE.json", help="With --proof: write the counts, to be merged."),
    ] = None
    search: Annotated[
        int | None,
        typer.Option(min=10, help="With --proof: a search that steers to danger, so many a round."),
    ] = None
    merge: Annotated[
        list[Path] | None,
        typer.Option(metavar="FILE.json", help="With --proof: show these counts together."),
    ] = None
    kept_in: Annotated[
        Path | None,
        typer.Option(
            "--keep",
            metavar="FILE.jsonl",
            help="With --sound: keep each session as it ends; start again to go on.",
        ),
    ] = None
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where what went wrong is kept.")] = Path(
        "out/rehearsal"
    )

    @property
    def one_by_one(self) -> bool:
        """Whether each session is long enough to be told by itself."""
        return self.sound or self.live

    def check(self, played: Played) -> None:
        """Raise VoicecheckError for what does not go together."""
        if played.noise and not self.sound:
            raise VoicecheckError("--noise goes with --sound or --as watch; add one of them")
        if self.live and (self.sound or (self.jobs or 1) > 1):
            raise VoicecheckError(
                "--live goes alone, one session at a time; leave out --sound, --jobs"
            )
        self._check_proof()
        if self.kept_in is not None and not self.sound:
            raise VoicecheckError("--keep goes with --sound; add it")

    def _check_proof(self) -> None:
        wanted = (self.inattention, self.without, self.into, self.merge, self.search)
        if self.proof and self.one_by_one:
            raise VoicecheckError("--proof is of words alone; leave out --sound, --live")
        if not self.proof and any(one is not None for one in wanted):
            raise VoicecheckError(
                "--inattention, --without, --into, --merge, --search go with --proof; add it"
            )


@dataclass(frozen=True, slots=True)
class Seat:
    """Which part a person takes, and through which sound."""

    part: Annotated[
        str | None,
        typer.Option(
            "--as",
            metavar="pilot|second|watch",
            help="Call yourself, read back to a simulated pilot, or look on; one session.",
        ),
    ] = None
    student: Annotated[str, typer.Option(help="With --as pilot, second: whose progress.")] = (
        "student"
    )
    progress: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Progress; default: the user's state files.")
    ] = None
    from_: Annotated[
        Path | None, typer.Option("--from", metavar="FILE.wav", help="With --as pilot, second.")
    ] = None
    microphone: OfStudent = None
    loudspeaker: OfStudent = None
    headset: Headset = None

    @property
    def of_student(self) -> bool:
        """Whether somebody takes part, rather than looks on."""
        return self.part in ("pilot", "second")

    def check_proof(self) -> None:
        """Raise VoicecheckError where a proof, in which nobody takes part, has a student's."""
        given = (self.from_, self.microphone, self.loudspeaker, self.progress)
        if any(one is not None for one in given):
            raise VoicecheckError(
                "--from, --microphone, --loudspeaker, --progress go with --as pilot or second; "
                "add it"
            )
