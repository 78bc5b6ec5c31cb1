"""Run one session from the user's options to its files."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from voicecheck import __version__
from voicecheck.audio.mixdown import Mixdown
from voicecheck.audio.prompts import Playback
from voicecheck.audio.source import RATE, AudioSource
from voicecheck.audio.wav import WavSource
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.resolved import checklist_to_json
from voicecheck.checklist.vocabulary import words
from voicecheck.engine import Engine
from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import format_utc
from voicecheck.journal.writer import JournalWriter
from voicecheck.logbook.crew import CREW, name_crew, names_to_json
from voicecheck.logbook.filing import file_text
from voicecheck.logbook.spool import expect
from voicecheck.logbook.wording import moment
from voicecheck.proofreading.advised import require_sound
from voicecheck.proofreading.sayable import require_sayable
from voicecheck.session.assembly import Assembly, Wanted, assemble, open_ears, typed
from voicecheck.session.conductor import Conductor
from voicecheck.session.dating import Dated, date_of
from voicecheck.session.display import Display
from voicecheck.session.filing import file_outputs, file_session
from voicecheck.session.folder import free_id, make_folder
from voicecheck.session.from_log import FromLog
from voicecheck.session.interrupting import held_back
from voicecheck.session.keyboard import Keys
from voicecheck.session.options import RunOptions
from voicecheck.session.parts import open_source
from voicecheck.session.record import Record
from voicecheck.session.result import full_summary
from voicecheck.session.touches import Touches
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.words import say, speaking

DRAIN_SECONDS: Final = 12.0
"""How long the last prompts may take after the end of a session."""
AFTER_SECONDS: Final = 0.5
"""How much of a recording follows the last prompt: what a sound card may be late by."""


@dataclass(frozen=True, slots=True)
class Finished:
    """A session that is over: its result and its files.

    written: of those made from its journal, the ones that this run wrote.
    """

    summary: dict[str, Any]
    folder: Path
    mixdown: Path | None
    recording: Path | None = None
    written: frozenset[Path] = frozenset()


@dataclass(frozen=True, slots=True)
class Before:
    """What is known before a session begins. dated: of a recording; None: it is now."""

    from_log: FromLog
    dated: Dated | None


def load(options: RunOptions) -> Loaded:
    """The checklist of this run. Raises InputError where it could not serve a session."""
    loaded = load_checklist(
        options.checklist, options.airframe, shipped=checklists_dir(), grammars=grammars_dir()
    )
    require_sound(loaded)
    return loaded


def run(
    options: RunOptions,
    cache: Path,
    display: Display,
    keys: Keys | None = None,
    touches: Touches | None = None,
    tick: Callable[[float], None] | None = None,
    around: Callable[[AudioSource], AudioSource] | None = None,
) -> Finished:
    """One whole session. Raises VoicecheckError before anything is recorded.

    A mixdown that cannot be written is told and costs no other file.
    keys: what is typed at the terminal. touches: callouts entered on screens, and their wish to
    stop. tick: told the stream time in seconds after each block of sound. around: makes the
    session's two channels out of the one that was opened.
    """
    loaded = load(options)
    _require_room_for_mixdown(options)
    display.speaks(loaded.language.words)
    with speaking(loaded.language.words):
        return _run(options, loaded, cache, display, keys, touches, tick, around)


def _run(
    options: RunOptions,
    loaded: Loaded,
    cache: Path,
    display: Display,
    keys: Keys | None,
    touches: Touches | None,
    tick: Callable[[float], None] | None,
    around: Callable[[AudioSource], AudioSource] | None,
) -> Finished:
    checklist = loaded.checklist
    wanted = Wanted(
        options.wav,
        options.microphone,
        options.cockpit,
        options.hearing,
        options.voice,
        options.recording,
        keep=options.mixdown is not None,
    )
    # A recording that cannot be read is told of before the listeners are loaded.
    opened = wanted.cockpit if around is None else replace(wanted.cockpit, channels=1)
    source = None if wanted.live else open_source(wanted.wav, None, opened, display.notice)
    dated = _dated(options, checklist.calendar, display)
    from_log = FromLog(
        options.log,
        options.database,
        checklist.registration,
        loaded.language,
        options.key,
        dated.started if dated is not None else None,
    )
    ears = open_ears(wanted, loaded.language, cache, display, words(loaded.checklist))
    if ears:
        require_sayable(loaded, ears[0].missing)
    if around is not None:
        source = around(source or open_source(None, wanted.microphone, opened, display.notice))
    parts = assemble(wanted, loaded.language, ears, cache, display, source)
    try:
        before = Before(from_log, dated)
        return _session(options, loaded, parts, display, keys, touches, before, tick)
    finally:
        parts.close()


def _session(
    options: RunOptions,
    loaded: Loaded,
    parts: Assembly,
    display: Display,
    keys: Keys | None,
    touches: Touches | None,
    before: Before,
    tick: Callable[[float], None] | None,
) -> Finished:
    now = datetime.now(UTC)
    from_log, started = before.from_log, before.dated.started if before.dated else now
    seals, names = name_crew(options.pilot, options.second)
    header = header_of(options, loaded, parts.source.name, parts.listeners, started)
    header |= {"crew": {"pilot": None, "second": None}, "crew_seal": seals}
    if before.dated is not None:
        header["dated"] = {"by": before.dated.by, "played": format_utc(now)}
    parts.record(header["session"])
    told = from_log.told()
    if from_log.problem is not None:
        display.notice(say("notice-logbook", why=from_log.problem))
    folder = make_folder(options.log, header["session"])
    if names:
        file_text(folder / CREW, names_to_json(names))
    expect(options.log, header["session"])
    writer = JournalWriter.create(folder, header)
    record = Record(writer, started, display.notice)
    conductor = parts.conductor(
        Engine(loaded.checklist),
        record,
        display,
        lambda summary, ignored: full_summary(header, summary, ignored, loaded.checklist.type),
    )
    conductor.begin(second=options.second is not None, from_log=told)
    live = parts.wanted.live
    summary = conduct(conductor, parts.source, live, keys, touches, parts.clock, tick)
    drain(conductor, live)
    left = record.close()
    written = file_outputs(folder, summary, left, display)
    written += file_session(folder, options.database, options.key, display)
    mixdown = _mixdown(options, parts.given, display)
    recording = parts.recording.path if parts.recording else None
    return Finished(summary, folder, mixdown, recording, frozenset(written))


def conduct(
    conductor: Conductor,
    source: AudioSource,
    live: bool,
    keys: Keys | None = None,
    touches: Touches | None = None,
    clock: Callable[[], float] | None = None,
    tick: Callable[[float], None] | None = None,
) -> dict[str, Any]:
    """Feed the source, what is typed and what is touched, until session or sound ends.

    clock: stream time of this moment, by which presses are dated. tick: told the time after each
    block.
    """
    reason = say("ended-microphone" if live else "ended-recording")
    entered = touches or Touches()
    entered.clock = clock
    with held_back() as interrupts:
        try:
            for item in source.blocks():
                with interrupts.in_hand():
                    typed(keys, conductor)
                    running = conductor.take(item)
                    for press in entered.due(conductor.now):
                        conductor.press(press)
                if not running or conductor.summary is not None:
                    break
                if entered.stopping is not None:
                    reason = entered.stopping
                    break
                if tick is not None:
                    tick(conductor.now)
        except KeyboardInterrupt:
            reason = say("ended-keyboard")
        interrupts.busy = True  # the end itself is always written
        for press in entered.close():
            if conductor.summary is None:
                conductor.press(press)
        return conductor.end(reason)


def drain(conductor: Conductor, live: bool) -> None:
    """Let the last prompts be spoken; in a recording that takes no time.

    Ctrl-C ends the waiting and nothing else: the session's files are still to be written.
    """
    step = 0.02
    passed = 0.0
    before = time.monotonic()
    with contextlib.suppress(KeyboardInterrupt), held_back() as interrupts:
        while passed < DRAIN_SECONDS:
            with interrupts.in_hand():
                if conductor.idle(step):
                    break
            passed += step
            if live:
                time.sleep(0.02)
                now = time.monotonic()
                step, before = now - before, now
    if live:
        conductor.idle(AFTER_SECONDS)


def header_of(
    options: RunOptions,
    loaded: Loaded,
    source_name: str,
    listeners: tuple[str, ...],
    started: datetime,
) -> dict[str, Any]:
    """Line 0 of the journal."""
    checklist = loaded.checklist
    kind = "file" if options.wav is not None else "microphone" if listeners else "keys"
    return {
        "schema": 1,
        "session": free_id(options.log, started, checklist.registration),
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
        "zone": checklist.calendar,
        "temperature_c": options.temperature_c,
        "source": {"kind": kind, "name": source_name},
        "listeners": list(listeners),
        "language": checklist.language,
        "rate": RATE,
        "settings": {
            "voice": asdict(options.voice),
            "timing": asdict(checklist.timing),
            "cockpit": asdict(options.cockpit),
            "recorded": options.recording is not None,
        },
        "caution": loaded.language.words("caution"),
    }


def _dated(options: RunOptions, zone: str, display: Display) -> Dated | None:
    """When the recording of this run was made, which is told; None where it runs now."""
    if options.wav is None or options.rehearsed:
        return None
    dated = date_of(options.wav, options.recorded_at, zone)
    by = say(f"dated-{dated.by}")
    display.notice(say("notice-dated", when=moment(format_utc(dated.started), zone), by=by))
    return dated


def _require_room_for_mixdown(options: RunOptions) -> None:
    """Raise VoicecheckError where the mixdown has no folder, or would replace the recording."""
    path = options.mixdown
    if path is None or options.wav is None:
        return
    if not path.parent.is_dir():
        raise VoicecheckError(f"--mixdown {path}: there is no folder {path.parent}; make it first")
    if path.is_dir():
        raise VoicecheckError(f"--mixdown {path}: is a folder; name a file in it")
    if path.exists() and options.wav.exists() and path.samefile(options.wav):
        raise VoicecheckError(f"--mixdown {path}: would replace the recording; name another file")


def _mixdown(options: RunOptions, given: list[Playback], display: Display) -> Path | None:
    if options.mixdown is None or options.wav is None:
        return None
    mix = Mixdown(WavSource(options.wav))
    for playback in given:
        if playback.start is not None and playback.end is not None:
            heard = int((playback.end - playback.start) * RATE)
            mix.place(playback.start, playback.pcm[:heard])
    try:
        mix.write(options.mixdown)
    except VoicecheckError as error:
        display.notice(say("notice-no-mixdown", why=error))
        return None
    return options.mixdown
