"""A working day of listening at the machine's own pace: does memory or anything else grow?

One process does what a live session does all the time: a synthetic crew's sound through the real
ears, engine, journal, prompts rendered by the real voice, recording. Only time is not waited for.
"""

from __future__ import annotations

import gc
import itertools
import os
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE, Block
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.resolved import OFF, Grade
from voicecheck.engine import Engine
from voicecheck.engine.phases import Phase
from voicecheck.journal.writer import JournalWriter
from voicecheck.measure.table import Table
from voicecheck.session.assembly import Assembly, Wanted, assemble, open_ears
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Quiet
from voicecheck.session.options import (
    CockpitOptions,
    HearingOptions,
    RecordingOptions,
    RunOptions,
    VoiceOptions,
)
from voicecheck.session.record import Record
from voicecheck.session.recording import Recording
from voicecheck.session.result import full_summary
from voicecheck.session.run import header_of
from voicecheck.shipped import checklists_dir, grammars_dir, recordings_dir
from voicecheck.world.noise import noise
from voicecheck.world.synthesis import Talker

HOURS: Final = 8.0
_AIRFRAME: Final = ("skerry-j2", "ZZ-HJC")
_CREW: Final = Talker("flite", "rms")
_LINES: Final = 9
"""Rows of the table: the start, then equal parts of the time."""
_PAUSE: Final = 6.0
"""Seconds between the callouts of the crew, prompts included."""
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
        self._loaded = loaded = _load()
        started = datetime.now(UTC)
        # Any recording makes the session one without a microphone; its sound is not used.
        wav = min(recordings_dir().glob("*.wav"))
        wanted = Wanted(wav, None, CockpitOptions(), HearingOptions(second=second), VoiceOptions())
        options = RunOptions(*_AIRFRAME, folder / "log")
        cache = folder / "cache"
        ears = open_ears(wanted, loaded.language, cache, Quiet())
        self._parts: Assembly = assemble(wanted, loaded.language, ears, cache, Quiet())
        header = header_of(options, loaded, "soak", self._parts.listeners, started)
        self._parts.recording = self._recording = Recording(
            RecordingOptions(folder / "recordings"), header["session"], 1
        )
        (folder / "session").mkdir()
        self._record = Record(
            JournalWriter.create(folder / "session", header), started, lambda _: None
        )
        self._engine = Engine(loaded.checklist)
        self._conductor: Conductor = self._parts.conductor(
            self._engine,
            self._record,
            Quiet(),
            lambda summary, ignored: full_summary(header, summary, ignored, loaded.checklist.type),
        )
        self._sounds: dict[str, NDArray[np.int16]] = {}
        level = 32768 * 10 ** (_NOISE_DB / 20)
        self._noise = noise("pink", RATE * 60, 7) * level

    def run(self, hours: float, progress: Callable[[str], None]) -> Table:
        """The whole of it."""
        rows = []
        began = time.monotonic()
        marks = [hours * 3600 * part / (_LINES - 1) for part in range(_LINES)]
        try:
            self._conductor.begin()
            crew = self._spoken()
            for mark in marks:
                while self._conductor.now < mark:
                    self._conductor.take(next(crew))
                rows.append(self._row(time.monotonic() - began))
                progress(f"{rows[-1][0]:g} h of {hours:g} h: {_told(rows[-1])}")
            self._conductor.end("the soak is over")
        finally:
            self._record.close()
            self._parts.close()
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
        state = self._engine.state
        speaker = self._parts.voice.speaker
        return (
            round(self._conductor.now / 3600, 2),
            round(_resident() / 2**20, 1),
            round((speaker.held if speaker is not None else 0) / 2**20, 1),
            sum(len(r.past) + (r.now is not None) for r in state.records.values()),
            len(list(Path("/proc/self/fd").iterdir())),
            threading.active_count(),
            state.heard_count,
            state.unclear_count,
            round(_size(self._recording.path.parent.parent / "session") / 2**20, 2),
            round(took),
        )

    def _spoken(self) -> Iterator[Block]:
        """The microphone: callouts over noise, without end; the keys where that does not do."""
        script = itertools.cycle(self._words())
        commands = self._loaded.checklist.commands
        affirm, resume = commands["affirm"][0], commands["resume"][0]
        said = ""
        while True:
            # What one listener does not understand at once is typed, as a crew would.
            if said == affirm and self._engine.state.question is not None:
                self._conductor.typed(affirm)
            if said == resume and self._engine.phase is Phase.HELD:
                self._conductor.typed(resume)
            words = affirm if self._engine.state.question is not None else next(script)
            said = words
            if words not in self._sounds:
                self._sounds[words] = _CREW.say(words)
            sound = self._sounds[words].astype(np.float64)
            count = -(-round(len(sound) + _PAUSE * RATE) // BLOCK) * BLOCK
            mixed = np.resize(self._noise, count)
            mixed[: len(sound)] += sound
            samples = np.clip(np.rint(mixed), -32768, 32767).astype(np.int16)
            for at in range(0, count, BLOCK):
                yield Block(samples[at : at + BLOCK])

    def _words(self) -> list[str]:
        """Once round the checklist, with a hold and a read-back; it never completes."""
        checklist = self._loaded.checklist
        words: list[str] = []
        for bus in checklist.buses:
            words.append(bus.on[0])
        for position in checklist.positions:
            words.append(position.select[0])
            for item in position.items:
                good = next((r for r in item.readings if r.grade is Grade.GOOD), None)
                if good is not None and position.id != OFF:
                    words.append(good.phrases[0])
        commands = checklist.commands
        return [*words, *(commands[name][0] for name in ("stand-by", "resume", "read-back"))]


def _load() -> Loaded:
    type_id, registration = _AIRFRAME
    return load_checklist(type_id, registration, shipped=checklists_dir(), grammars=grammars_dir())


def _told(row: _Row) -> str:
    return ", ".join(f"{n} {v}" for n, v in zip(_COLUMNS[1:], row[1:], strict=True))


def _resident() -> int:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


def _size(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.iterdir())
