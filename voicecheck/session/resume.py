"""Going on with a session that was cut off: replay its journal, then listen again."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from voicecheck.checklist.vocabulary import words
from voicecheck.engine import Engine
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL, Kind
from voicecheck.journal.reader import Journal, read
from voicecheck.journal.rfc3339 import parse
from voicecheck.journal.writer import JournalWriter
from voicecheck.language import Language, load_language
from voicecheck.logbook.sessions import Session, find
from voicecheck.logbook.spool import expect
from voicecheck.session.assembly import Assembly, Wanted, assemble, open_ears
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Display
from voicecheck.session.filing import file_outputs, file_session
from voicecheck.session.keyboard import Keys
from voicecheck.session.options import LogOptions
from voicecheck.session.record import Record
from voicecheck.session.replay import Replayed, replay_lines
from voicecheck.session.result import full_summary
from voicecheck.session.run import Finished, conduct, drain
from voicecheck.session.touches import Touches
from voicecheck.shipped import grammars_dir
from voicecheck.speech.opening import OpenedEar
from voicecheck.words import say, speaking


def resume(
    log: LogOptions,
    session: str,
    wanted: Wanted,
    cache: Path,
    display: Display,
    keys: Keys | None = None,
    touches: Touches | None = None,
) -> Finished:
    """Resume a session ("latest", an id or its beginning) of a log folder.

    One that lost nothing but its summary to a crash gets it from its events; nothing is opened.

    Raises VoicecheckError when it is finished, broken, or cannot be found.
    """
    found = find(log.folder, session)
    if found.summary is not None:
        raise VoicecheckError(f"{found.id}: is finished; start a new one with `voicecheck run`")
    display.speaks(found.words)
    with speaking(found.words):
        return _resume(found, log, wanted, cache, display, keys, touches)


def _resume(
    found: Session,
    log: LogOptions,
    wanted: Wanted,
    cache: Path,
    display: Display,
    keys: Keys | None,
    touches: Touches | None,
) -> Finished:
    file = found.folder / JOURNAL
    expect(log.folder, found.id)
    writer = JournalWriter.reopen(file)
    recording = None
    try:
        journal = read(file)
        replayed = replay_lines(journal, file)
        record = Record(writer, parse(journal.header.started), display.notice)
        if replayed.summary is not None:
            summary = _only_summarised(record, journal, replayed.summary, display)
        else:
            _require_same_time(journal, wanted)
            language = load_language(grammars_dir() / journal.header.language)
            ears = _ears(wanted, found.id, replayed.engine, language, cache, display)
            offset = _offset(journal, replayed, live=wanted.live)
            parts = assemble(wanted, language, ears, cache, display, offset=offset)
            try:
                conductor = _rejoined(journal, replayed, parts, record, display, offset)
                summary = conduct(conductor, parts.source, wanted.live, keys, touches, parts.clock)
                drain(conductor, wanted.live)
            finally:
                parts.close()
            recording = parts.recording
        left = record.close()
    finally:
        writer.close()
    written = file_outputs(found.folder, summary, left, display)
    written += file_session(found.folder, log.database, log.key, display)
    kept = recording.path if recording else None
    return Finished(summary, found.folder, None, kept, frozenset(written))


def _require_same_time(journal: Journal, wanted: Wanted) -> None:
    """Raise VoicecheckError where what is said now would be dated in the time of a recording."""
    if journal.header.dated is not None and wanted.live:
        raise VoicecheckError(
            f"{journal.header.session}: is of a recording; go on with the rest of it, --from "
            "FILE.wav, or start a new session with `voicecheck run`"
        )


def _ears(
    wanted: Wanted, session: str, engine: Engine, language: Language, cache: Path, display: Display
) -> tuple[OpenedEar, ...]:
    """Ears that fit how the session began. Raises VoicecheckError."""
    channels = engine.state.channels
    if wanted.cockpit.hear and channels != wanted.cockpit.channels:
        raise VoicecheckError(
            f"{session}: ran on {channels} channel(s); resume it with --channels {channels}"
        )
    said = words(engine.checklist)
    ears = open_ears(wanted, language, cache, display, said)
    unknown = ears[0].missing(said) if ears else ()
    if unknown:
        raise VoicecheckError(
            f"{session}: this listener has no pronunciation for {', '.join(unknown[:5])}; "
            "resume it with the listener that it began with, or by keys with --deaf"
        )
    return ears


def _offset(journal: Journal, replayed: Replayed, *, live: bool) -> float:
    """Stream time at which the session goes on: live, the time away has passed too."""
    away = (datetime.now(UTC) - parse(journal.header.started)).total_seconds()
    return max(replayed.last, away) if live else replayed.last


def _rejoined(
    journal: Journal,
    replayed: Replayed,
    parts: Assembly,
    record: Record,
    display: Display,
    offset: float,
) -> Conductor:
    """The conductor, after the first events of a resumed session."""
    parts.record(journal.header.session, offset)
    facts = {"listeners": list(parts.listeners), "offset": offset, "source": parts.source.name}
    record.write(Kind.RESUMED, facts, offset)
    header = journal.header.model_dump(by_alias=True)
    type_name = replayed.engine.checklist.type

    def summarised(summary: dict[str, Any], ignored: int) -> dict[str, Any]:
        return full_summary(header, summary, ignored + replayed.ignored, type_name)

    conductor = parts.conductor(replayed.engine, record, display, summarised, offset)
    conductor.rejoin()
    return conductor


def _only_summarised(
    record: Record, journal: Journal, summary: dict[str, Any], display: Display
) -> dict[str, Any]:
    """End a journal whose last event ended the session: its summary."""
    started = parse(journal.header.started)
    at = (parse(journal.lines[-1].utc) - started).total_seconds()
    text = say("remark-summary")
    display.notice(text)
    record.write(Kind.REMARK, {"text": text}, at)
    record.write(Kind.SUMMARY, {"summary": summary}, at)
    return summary
