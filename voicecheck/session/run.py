"""Run one session from the user's options to its files."""

from __future__ import annotations

import json
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from voicecheck import __version__
from voicecheck.audio.mixdown import Mixdown
from voicecheck.audio.source import RATE, AudioSource
from voicecheck.audio.wav import WavSource
from voicecheck.caution import CAUTION
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.resolved import checklist_to_json
from voicecheck.checklist.vocabulary import words
from voicecheck.engine import Engine
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.rfc3339 import format_utc
from voicecheck.journal.writer import JournalWriter
from voicecheck.logbook.filing import REPORT, TRANSCRIPT, file_text
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import load as load_session
from voicecheck.logbook.transcript import transcript
from voicecheck.session.advised import require_sound
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Display
from voicecheck.session.folder import make_folder, session_id
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import RunOptions
from voicecheck.session.parts import OpenedVoice, open_source, open_voice
from voicecheck.session.record import Record
from voicecheck.session.result import full_summary
from voicecheck.session.sayable import require_sayable
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech.opening import OpenedEar

DRAIN_SECONDS: Final = 12.0
"""How long the last prompts may take after the end of a session."""
SUMMARY: Final = "summary.json"


@dataclass(frozen=True, slots=True)
class Finished:
    """A session that is over: its result and its files."""

    summary: dict[str, Any]
    folder: Path
    mixdown: Path | None


def load(options: RunOptions) -> Loaded:
    """The checklist of this run. Raises InputError where it could not serve a session."""
    loaded = load_checklist(
        options.checklist, options.airframe, shipped=checklists_dir(), grammars=grammars_dir()
    )
    require_sound(loaded)
    return loaded


def run(options: RunOptions, cache: Path, display: Display) -> Finished:
    """One whole session. Raises VoicecheckError before anything is recorded."""
    loaded = load(options)
    live = options.wav is None
    recording = None if live else open_source(options.wav, None)
    display.notice("listeners are being loaded")
    hearing = open_hearing(loaded.language, options.hearing, cache, words(loaded.checklist))
    require_sayable(loaded, hearing.missing)
    for notice in hearing.notices:
        display.notice(notice)
    # The microphone last: its sound would pile up while the listeners are being loaded.
    source = recording or open_source(None, options.microphone)
    clock = StreamClock(live)
    voice = open_voice(options.voice, cache, clock, live=live)
    try:
        for notice in voice.notices:
            display.notice(notice)
        return _session(options, loaded, source, hearing, clock, voice, display, live)
    finally:
        source.stop()
        voice.close()


def _session(
    options: RunOptions,
    loaded: Loaded,
    source: AudioSource,
    hearing: OpenedEar,
    clock: StreamClock,
    voice: OpenedVoice,
    display: Display,
    live: bool,
) -> Finished:
    started = datetime.now(UTC)
    header = header_of(options, loaded, source.name, hearing.listeners, started)
    folder = make_folder(options.log, header["session"])
    writer = JournalWriter.create(folder, header)
    record = Record(writer, started, display.notice)
    conductor = Conductor(
        Engine(loaded.checklist),
        hearing.ear,
        loaded.language,
        voice.prompter,
        record,
        display,
        lambda summary, ignored: full_summary(header, summary, ignored, loaded.checklist.type),
        deaf_while_speaking=live and not options.headset,
    )
    clock.start(lambda: conductor.now)
    conductor.begin(second=options.second is not None)
    summary = conduct(conductor, source, live)
    drain(conductor, live)
    left = record.close()
    mixdown = _mixdown(options, voice)
    file_outputs(folder, summary, left, display)
    return Finished(summary, folder, mixdown)


def conduct(conductor: Conductor, source: AudioSource, live: bool) -> dict[str, Any]:
    """Feed the source to the conductor until the session or the sound ends."""
    reason = "the microphone was closed" if live else "the recording ended"
    try:
        for item in source.blocks():
            if not conductor.take(item):
                break
    except KeyboardInterrupt:
        reason = "stopped at the keyboard"
    return conductor.end(reason)


def drain(conductor: Conductor, live: bool) -> None:
    """Let the last prompts be spoken; in a recording that takes no time."""
    step = 0.02
    for _ in range(int(DRAIN_SECONDS / step)):
        if conductor.idle(step):
            return
        if live:
            time.sleep(step)


def header_of(
    options: RunOptions,
    loaded: Loaded,
    source_name: str,
    listeners: tuple[str, ...],
    started: datetime,
) -> dict[str, Any]:
    """Line 0 of the journal."""
    checklist = loaded.checklist
    kind = "file" if options.wav is not None else "microphone"
    return {
        "schema": 1,
        "session": session_id(started, checklist.registration),
        "voicecheck": __version__,
        "started": format_utc(started),
        "airframe": checklist.registration,
        "operator": checklist.operator,
        "checklist": {
            "id": checklist.id,
            "title": checklist.title,
            "sha256": loaded.sha256,
            "resolved": checklist_to_json(checklist),
        },
        "crew": {"pilot": options.pilot, "second": options.second},
        "source": {"kind": kind, "name": source_name},
        "listeners": list(listeners),
        "language": checklist.language,
        "rate": RATE,
        "settings": {
            "voice": asdict(options.voice),
            "timing": asdict(checklist.timing),
            "headset": options.headset,
        },
        "caution": CAUTION,
    }


def file_outputs(folder: Path, summary: dict[str, Any], left: bytes, display: Display) -> None:
    """Write summary, transcript and report beside the journal."""
    if left:
        display.notice(_rescue(folder, left))
        return
    text = json.dumps(summary, ensure_ascii=False, indent=2) + "\n"
    file_text(folder / SUMMARY, text)
    session = load_session(folder)
    file_text(folder / TRANSCRIPT, transcript(session))
    file_text(folder / REPORT, report(session))


def _rescue(folder: Path, left: bytes) -> str:
    """Put journal lines that the disk of the log refused in the system's temporary folder."""
    try:
        with tempfile.NamedTemporaryFile(
            prefix=f"{folder.name}-", suffix=".jsonl", delete=False
        ) as file:
            file.write(left)
    except OSError as error:
        print(left.decode("utf-8"), file=sys.stderr)
        return f"the last journal lines could be written nowhere ({error}); they stand above"
    return f"the last journal lines are in {file.name}; append them to {folder / JOURNAL}"


def _mixdown(options: RunOptions, voice: OpenedVoice) -> Path | None:
    if options.mixdown is None or options.wav is None:
        return None
    mix = Mixdown(WavSource(options.wav))
    for playback in voice.prompter.spoken:
        if playback.start is not None and playback.end is not None:
            heard = int((playback.end - playback.start) * RATE)
            mix.place(playback.start, playback.pcm[:heard])
    mix.write(options.mixdown)
    return options.mixdown
