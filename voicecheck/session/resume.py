"""Going on with a session that was cut off: replay its journal, then listen again."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from voicecheck.checklist.vocabulary import words
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL, Kind
from voicecheck.journal.reader import Journal, read
from voicecheck.journal.rfc3339 import parse
from voicecheck.journal.writer import JournalWriter
from voicecheck.language import load_language
from voicecheck.logbook.sessions import Session, find
from voicecheck.logbook.spool import expect
from voicecheck.session.assembly import Wanted, assemble, open_ears
from voicecheck.session.display import Display
from voicecheck.session.filing import file_outputs, file_session
from voicecheck.session.keyboard import Keys
from voicecheck.session.record import Record
from voicecheck.session.replay import replay_lines
from voicecheck.session.result import full_summary
from voicecheck.session.run import Finished, conduct, drain
from voicecheck.session.touches import Touches
from voicecheck.shipped import grammars_dir
from voicecheck.words import say, speaking


def resume(
    log: Path,
    session: str,
    wanted: Wanted,
    cache: Path,
    display: Display,
    keys: Keys | None = None,
    touches: Touches | None = None,
    *,
    database: str | None = None,
    key: Path | None = None,
) -> Finished:
    """Resume a session ("latest", an id or its beginning) of a log folder.

    One that lost nothing but its summary to a crash gets it from its events; nothing is opened.

    Raises VoicecheckError when it is finished, broken, or cannot be found.
    """
    found = find(log, session)
    if found.summary is not None:
        raise VoicecheckError(f"{found.id}: is finished; start a new one with `voicecheck run`")
    display.speaks(found.words)
    with speaking(found.words):
        return _resume(found, log, wanted, cache, display, keys, touches, database, key)


def _resume(
    found: Session,
    log: Path,
    wanted: Wanted,
    cache: Path,
    display: Display,
    keys: Keys | None,
    touches: Touches | None,
    database: str | None,
    key: Path | None,
) -> Finished:
    file = found.folder / JOURNAL
    expect(log, found.id)
    writer = JournalWriter.reopen(file)
    try:
        journal = read(file)
        replayed = replay_lines(journal, file)
        if replayed.summary is not None:
            return _only_summarised(writer, journal, replayed.summary, database, key, display)
        if wanted.cockpit.hear and replayed.engine.state.channels != wanted.cockpit.channels:
            raise VoicecheckError(
                f"{found.id}: ran on {replayed.engine.state.channels} channel(s); "
                f"resume it with --channels {replayed.engine.state.channels}"
            )
        language = load_language(grammars_dir() / journal.header.language)
        live = wanted.live
        said = words(replayed.engine.checklist)
        ears = open_ears(wanted, language, cache, display, said)
        unknown = ears[0].missing(said) if ears else ()
        if unknown:
            raise VoicecheckError(
                f"{found.id}: this listener has no pronunciation for {', '.join(unknown[:5])}; "
                "resume it with the listener that it began with, or by keys with --deaf"
            )
        started = parse(journal.header.started)
        away = (datetime.now(UTC) - started).total_seconds()
        offset = max(replayed.last, away) if live else replayed.last
        parts = assemble(wanted, language, ears, cache, display, offset=offset)
        try:
            parts.record(journal.header.session, offset)
            record = Record(writer, started, display.notice)
            facts = {
                "listeners": list(parts.listeners),
                "offset": offset,
                "source": parts.source.name,
            }
            record.write(Kind.RESUMED, facts, offset)
            header = journal.header.model_dump(by_alias=True)
            type_name = replayed.engine.checklist.type
            conductor = parts.conductor(
                replayed.engine,
                record,
                display,
                lambda summary, ignored: full_summary(
                    header, summary, ignored + replayed.ignored, type_name
                ),
                offset,
            )
            conductor.rejoin()
            summary = conduct(conductor, parts.source, live, keys, touches, parts.clock)
            drain(conductor, live)
            left = record.close()
        finally:
            parts.close()
    finally:
        writer.close()
    file_outputs(found.folder, summary, left, display)
    file_session(found.folder, database, key, display)
    return Finished(summary, found.folder, None, parts.recording.path if parts.recording else None)


def _only_summarised(
    writer: JournalWriter,
    journal: Journal,
    summary: dict[str, Any],
    database: str | None,
    key: Path | None,
    display: Display,
) -> Finished:
    """End a journal whose last event ended the session: its summary, its files, its filing."""
    started = parse(journal.header.started)
    at = (parse(journal.lines[-1].utc) - started).total_seconds()
    record = Record(writer, started, display.notice)
    text = say("remark-summary")
    display.notice(text)
    record.write(Kind.REMARK, {"text": text}, at)
    record.write(Kind.SUMMARY, {"summary": summary}, at)
    folder = writer.path.parent
    file_outputs(folder, summary, record.close(), display)
    file_session(folder, database, key, display)
    return Finished(summary, folder, None)
