"""Going on with a session that was cut off: replay its journal, then listen again."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from voicecheck.checklist.vocabulary import words
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL, Kind
from voicecheck.journal.reader import read
from voicecheck.journal.rfc3339 import parse
from voicecheck.journal.writer import JournalWriter
from voicecheck.language import load_language
from voicecheck.logbook.sessions import find
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Display
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import HearingOptions, VoiceOptions
from voicecheck.session.parts import open_source, open_voice
from voicecheck.session.record import Record
from voicecheck.session.replay import replay_lines
from voicecheck.session.result import full_summary
from voicecheck.session.run import (
    Finished,
    conduct,
    drain,
    file_outputs,
)
from voicecheck.shipped import grammars_dir


def resume(
    log: Path,
    wanted: str,
    *,
    wav: Path | None,
    microphone: str | None,
    headset: bool,
    hearing: HearingOptions,
    voice: VoiceOptions,
    cache: Path,
    display: Display,
) -> Finished:
    """Resume the session `wanted` ("latest", an id or its beginning) of a log folder.

    Raises VoicecheckError when it is finished, broken, or cannot be found.
    """
    found = find(log, wanted)
    file = found.folder / JOURNAL
    if found.summary is not None:
        raise VoicecheckError(f"{found.id}: is finished; start a new one with `voicecheck run`")
    writer = JournalWriter.reopen(file)
    try:
        journal = read(file)
        replayed = replay_lines(journal, file)
        if replayed.summary is not None:
            raise VoicecheckError(
                f"{found.id}: all events are there and only the summary is missing; "
                "see `voicecheck replay`"
            )
        language = load_language(grammars_dir() / journal.header.language)
        live = wav is None
        source = open_source(wav, microphone)
        ears = open_hearing(language, hearing, cache, words(replayed.engine.checklist))
        for notice in ears.notices:
            display.notice(notice)
        started = parse(journal.header.started)
        away = (datetime.now(UTC) - started).total_seconds()
        offset = max(replayed.last, away) if live else replayed.last
        clock = StreamClock(live, offset)
        out = open_voice(voice, cache, clock, live=live)
        try:
            record = Record(writer, started, display.notice)
            facts = {"listeners": list(ears.listeners), "offset": offset, "source": source.name}
            record.write(Kind.RESUMED, facts, offset)
            header = journal.header.model_dump(by_alias=True)
            type_name = replayed.engine.checklist.type
            conductor = Conductor(
                replayed.engine,
                ears.ear,
                language,
                out.prompter,
                record,
                display,
                lambda summary, ignored: full_summary(
                    header, summary, ignored + replayed.ignored, type_name
                ),
                offset,
                deaf_while_speaking=live and not headset,
            )
            clock.start(lambda: conductor.now)
            conductor.rejoin()
            summary = conduct(conductor, source, live)
            drain(conductor, live)
            left = record.close()
        finally:
            source.stop()
            out.close()
    finally:
        writer.close()
    file_outputs(found.folder, summary, left, display)
    return Finished(summary, found.folder, None)
