"""A working day of listening at the machine's own pace: does memory or anything else grow?

One process does what a live session does all the time: a synthetic crew's sound through the real
ears, engine, journal, prompts rendered by the real voice, recording. Only time is not waited for.
"""

from __future__ import annotations

import gc
import itertools
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from voicecheck.checklist.resolved import OFF
from voicecheck.engine.phases import Phase
from voicecheck.journal.writer import JournalWriter
from voicecheck.measure.durations import resident_megabytes
from voicecheck.measure.table import Table
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import (
    HearingOptions,
    RecordingOptions,
    RunOptions,
    VoiceOptions,
)
from voicecheck.session.record import Record
from voicecheck.session.recording import Recording
from voicecheck.session.result import full_summary
from voicecheck.session.run import header_of
from voicecheck.world.acts import Utterance
from voicecheck.world.driver import Recital, acting
from voicecheck.world.fleet import airframe
from voicecheck.world.microphones import Microphones
from voicecheck.world.noise import Unending
from voicecheck.world.rounds import usual_calls
from voicecheck.world.sound import VERDICT, Fittings, SoundWay
from voicecheck.world.synthesis import LEVEL_DBFS, Talker
from voicecheck.world.voices import sound_of

HOURS: Final = 8.0
_AIRFRAME: Final = ("skerry-j2", "ZZ-HJC")
_CREW: Final = Talker("flite", "rms")
_LINES: Final = 9
"""Rows of the table: the start, then equal parts of the time."""
_PAUSE: Final = 6.0 - VERDICT
"""Seconds from a verdict to the next callout of the crew, prompts included."""
_NOISE_DB: Final = -55.0


def measure_soak(
    hours: float = HOURS,
    second: str = "off",
    progress: Callable[[str], None] = lambda _: None,
) -> Table:
    """Listen for so many hours of stream time, as fast as this machine can.

    second: the scoring listener, as for `voicecheck run`. Raises VoicecheckError for missing parts.
    """
    with tempfile.TemporaryDirectory() as folder:
        return _Soak(Path(folder), second).run(hours, progress)


_COLUMNS: Final = (
    "stream h",
    "memory MiB",
    "prompts MiB",
    "results",
    "open files",
    "threads",
    "callouts",
    "asked again",
    "journal MiB",
    "took s",
)
_Row = tuple[float, float, float, int, int, int, int, int, float, float]


class _Soak:
    def __init__(self, folder: Path, second: str) -> None:
        self._folder = folder
        loaded = airframe(*_AIRFRAME)
        started = datetime.now(UTC)
        cache = folder / "cache"
        opened = open_hearing(loaded.language, HearingOptions(second=second), cache)
        options = RunOptions(*_AIRFRAME, folder / "log")
        header = header_of(options, loaded, "soak", opened.listeners, started)
        (folder / "session").mkdir()
        self._record = Record(
            JournalWriter.create(folder / "session", header), started, lambda _: None
        )
        taped = RecordingOptions(folder / "recordings")
        self._recording = Recording(taped, header["session"], 1)
        self._way = SoundWay(
            loaded,
            [opened.ear],
            Microphones(Unending("pink", LEVEL_DBFS - _NOISE_DB, 7)),
            lambda said: sound_of(_CREW, said.words, cache),
            cache,
            Fittings(
                record=self._record,
                recording=self._recording,
                voice=VoiceOptions(),
                keep=False,
                summarise=lambda summary, ignored: full_summary(
                    header, summary, ignored, loaded.checklist.type
                ),
            ),
        )
        self._checklist = loaded.checklist

    def run(self, hours: float, progress: Callable[[str], None]) -> Table:
        """The whole of it."""
        rows, way = [], self._way
        began = time.monotonic()
        marks = [hours * 3600 * part / (_LINES - 1) for part in range(_LINES)]
        try:
            way.conductor.begin()
            crew = acting(Recital(self._course()), way, most=sys.maxsize)
            for mark in marks:
                while way.now < mark:
                    way.let(next(crew))
                rows.append(self._row(time.monotonic() - began))
                progress(f"{rows[-1][0]:g} h of {hours:g} h: {_told(rows[-1])}")
            way.conductor.end("the soak is over")
        finally:
            self._record.close()
            way.voice.close()
            self._recording.close()
        return Table(
            f"{hours:g} hours of listening, speaking and recording at accelerated pace",
            _COLUMNS,
            tuple(rows),
            (
                "Memory is what this process holds (resident); the first row is from before the "
                "first callout. Of it, prompts are those rendered so far, kept up to 48 MiB so "
                "that they sound at once; results are what the engine remembers, and nothing of "
                "that is erased. Journal, captions and sound are on disk.",
            ),
        )

    def _row(self, took: float) -> _Row:
        gc.collect()
        state = self._way.engine.state
        speaker = self._way.voice.speaker
        return (
            round(self._way.now / 3600, 2),
            resident_megabytes() or 0.0,
            round((speaker.held if speaker is not None else 0) / 2**20, 1),
            sum(len(r.past) + (r.now is not None) for r in state.records.values()),
            len(list(Path("/proc/self/fd").iterdir())),
            threading.active_count(),
            state.heard_count,
            state.unclear_count,
            round(_size(self._folder / "session") / 2**20, 2),
            round(took),
        )

    def _course(self) -> Iterator[Utterance]:
        """Once round the checklist with a hold and a read-back, again and again.

        It never completes. What one listener does not understand at once is typed, as a crew
        would.
        """
        commands = {name: phrases[0] for name, phrases in self._checklist.commands.items()}
        affirm, resume = commands["affirm"], commands["resume"]
        calls = [words for words in usual_calls(self._checklist) if words != affirm]
        calls += [self._checklist.position(OFF).select[0]]
        calls += [commands[name] for name in ("stand-by", "resume", "read-back")]
        script, engine = itertools.cycle(calls), self._way.engine
        while True:
            words = affirm if engine.state.question is not None else next(script)
            yield Utterance(0, ((words, words),), words, _PAUSE, waits=False)
            asked = words == affirm and engine.state.question is not None
            if asked or (words == resume and engine.phase is Phase.HELD):
                self._way.conductor.typed(words)


def _told(row: _Row) -> str:
    return ", ".join(f"{n} {v}" for n, v in zip(_COLUMNS[1:], row[1:], strict=True))


def _size(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.iterdir())
