"""Is a session still what was written: its journal, and the summary beside it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError
from voicecheck.journal.chain import canonical
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.reader import State, Verification, open_plain, read, verify
from voicecheck.logbook.crew import crew_of, names_in
from voicecheck.logbook.wording import named
from voicecheck.words import say

SUMMARY: Final = "summary.json"


def words(found: Verification) -> str:
    """One line that says what the verification found, without claiming more."""
    if found.state is State.BROKEN:
        return say("chain-broken", line=found.line, problem=found.problem)
    if found.state is State.WHOLE:
        return say("chain-whole", n=found.lines, head=found.head)
    state = named("state", found.state)
    return say(
        "chain-unfinished", state=state, n=found.lines, head=found.head, problem=problem(found)
    )


def problem(found: Verification) -> str | None:
    """What the verification found; that a record only lacks its end is no fault, and worded."""
    return say("chain-no-summary") if found.state is State.UNFINISHED else found.problem


def verify_session(folder: Path) -> Verification:
    """Verify the journal in `folder` and hold summary.json, where there is one, against it.

    Raises VoicecheckError when the journal cannot be opened.
    """
    path = folder / JOURNAL
    found = verify(path)
    if found.intact and (problem := _crew_problem(folder)) is not None:
        return Verification(State.BROKEN, problem, found.lines, found.lines, found.head)
    beside = folder / SUMMARY
    if found.state is State.BROKEN or not (beside.exists() or beside.is_symlink()):
        return found
    line = read(path).summary
    stated = line.fields.get("summary") if line is not None else None
    if _same(beside, stated):
        return found
    problem = f"{SUMMARY} differs from the journal's own summary"
    return Verification(State.BROKEN, problem, found.lines, found.lines, found.head)


def _crew_problem(folder: Path) -> str | None:
    """What is wrong with the names beside the journal."""
    try:
        return crew_of(read(folder / JOURNAL).header, names_in(folder)).problem
    except VoicecheckError as error:
        return str(error)


def _same(beside: Path, stated: object) -> bool:
    try:
        with open_plain(beside) as file:
            return canonical(json.loads(file.read())) == canonical(stated)
    except (VoicecheckError, ValueError, TypeError, RecursionError):
        return False
