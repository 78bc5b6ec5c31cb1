"""Deciding a recorded session again: same events, same effects, or an error that says where."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from voicecheck.checklist.recorded import recorded_checklist
from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import Engine, effects
from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.journal.chain import canonical
from voicecheck.journal.format import JOURNAL, Kind, Line
from voicecheck.journal.reader import Journal, read
from voicecheck.session.codec import effects_digest, event_from_json
from voicecheck.session.result import full_summary
from voicecheck.words import Words, recorded

_MISFITS: Final = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
)


@dataclass(frozen=True, slots=True)
class Replayed:
    """An engine in the state the journal leads to. summary is None when unfinished.

    words: those in which its record was written.
    """

    engine: Engine
    events: int
    ignored: int
    last: float
    summary: dict[str, Any] | None
    words: Words


def replay(path: Path) -> Replayed:
    """Replay a journal file or session folder.

    Raises InputError naming the line at which the chain is broken, or a decision or the summary
    differs from the record, and VoicecheckError when the journal cannot be read.
    """
    file = path / JOURNAL if path.is_dir() else path
    journal = read(file)
    found = journal.verification
    if not found.intact:
        remedy = "restore the journal from a copy"
        raise InputError(Place(str(file), found.line), f"chain broken: {found.problem}", remedy)
    return replay_lines(journal, file)


def replay_lines(journal: Journal, file: Path) -> Replayed:
    """Replay a journal that was read from `file`, whatever its chain is. Raises InputError."""
    checklist = checklist_of(journal, file)
    engine = Engine(checklist)
    count = ignored = 0
    finish: effects.Finish | None = None
    for line in journal.lines:
        if line.kind == Kind.SPEECH:
            ignored += 1
        if line.kind != Kind.EVENT:
            continue
        made = _again(engine, line, file)
        count += 1
        finish = next((e for e in made if isinstance(e, effects.Finish)), finish)
    header = journal.header.model_dump(by_alias=True)
    summary = None
    if finish is not None:
        summary = full_summary(header, dict(finish.summary), ignored, checklist.type)
    _require_same_summary(journal, summary, file)
    words = recorded(journal.header.checklist.resolved)
    return Replayed(engine, count, ignored, engine.state.now, summary, words)


def _require_same_summary(journal: Journal, summary: dict[str, Any] | None, file: Path) -> None:
    """Reports and logbook show the summary line: it must be what the events come to."""
    line = journal.summary
    if line is None:
        return
    recorded = line.fields.get("summary")
    if summary is None or canonical(summary) != canonical(recorded):
        raise InputError(
            Place(str(file), line.n + 1),
            "the summary is not what the events above come to",
            "use the voicecheck version named in the header, or restore the journal from a copy",
        )


def checklist_of(journal: Journal, file: Path) -> Checklist:
    """The checklist that the session was run with, from the journal itself."""
    try:
        return recorded_checklist(journal.header.checklist.resolved)
    except ValidationError as error:
        problem = error.errors(include_url=False)[0]["msg"]
        raise InputError(
            Place(str(file), 1),
            f"the checklist in the header cannot be read ({problem})",
            "replay it with the voicecheck version that wrote it",
        ) from None


def _again(engine: Engine, line: Line, file: Path) -> list[effects.Effect]:
    place = Place(str(file), line.n + 1)
    event = line.fields.get("event")
    if not isinstance(event, dict):
        raise InputError(place, "an event line without an event", "restore the journal")
    try:
        made = engine.handle(event_from_json(event))
    except VoicecheckError as error:
        raise InputError(place, str(error), "use the version that wrote it") from None
    except _MISFITS as error:
        # Only a journal that was rewritten, chain and all, can hold what never went together.
        raise InputError(
            place,
            f"the event does not fit the checklist in the header ({type(error).__name__})",
            "restore the journal from a copy",
        ) from None
    if effects_digest(made) != line.fields.get("digest"):
        raise InputError(
            place,
            "the decision differs from the record",
            "use the voicecheck version named in the header",
        )
    return made
