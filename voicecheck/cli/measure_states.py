"""The work of ``voicecheck measure states``: walk every state of the engine, and check it."""

from __future__ import annotations

import typer

from voicecheck.checklist.loader import find_type_file, load_checklist, read_airframes, read_type
from voicecheck.checklist.resolved import Checklist
from voicecheck.errors import VoicecheckError
from voicecheck.measure.states.explore import ENDLESS, FULL, QUICK, Row
from voicecheck.shipped import checklists_dir, grammars_dir

DEPTHS = {"quick": QUICK, "full": FULL, "endless": ENDLESS}


def limits_of(depth: str) -> dict[str, int | None]:
    """States of each sub-checklist at which to stop. Raises VoicecheckError."""
    if depth not in DEPTHS:
        raise VoicecheckError(f"--depth {depth}: choose {', '.join(DEPTHS)}")
    return dict(DEPTHS[depth])


def wanted_checklists(name: str | None, registrations: list[str]) -> list[Checklist]:
    """The airframes of a type, or of the whole shipped fleet. Raises VoicecheckError."""
    shipped = checklists_dir()
    names = [name] if name else [path.stem for path in sorted(shipped.glob("*.yaml"))]
    checklists = []
    for one in names:
        path = find_type_file(one, shipped)
        type_file, _ = read_type(path)
        known = sorted(read_airframes(path, type_file.id))
        # With a type named, the loader tells which registrations there are.
        chosen = registrations if registrations and name else known
        for registration in chosen:
            if not registrations or registration in registrations:
                made = load_checklist(one, registration, shipped=shipped, grammars=grammars_dir())
                checklists.append(made.checklist)
    if not checklists:
        raise VoicecheckError(
            f"--airframe {', '.join(registrations)}: not in the shipped fleet; name its type, too"
        )
    return checklists


def progress(row: Row) -> None:
    """One line on standard error as soon as a kind of a checklist is walked."""
    typer.echo(
        f"{row.checklist} {row.kind}: {row.states:,} states, {row.transitions:,} transitions, "
        f"{len(row.problems)} problems, {row.seconds:.0f} s",
        err=True,
    )
    for problem in row.problems:
        typer.echo(f"  {problem}", err=True)
