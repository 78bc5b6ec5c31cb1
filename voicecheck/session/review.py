"""A past session as a review page needs it: what happened when, its sound, and remarks on it."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile

from voicecheck.audio.source import RATE
from voicecheck.audio.wav import WavSource
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import Kind
from voicecheck.logbook.annotations import annotate, read_annotations
from voicecheck.logbook.integrity import verify_session, words
from voicecheck.logbook.outcome import outcome
from voicecheck.logbook.rows import Row, Who, rows, spoken
from voicecheck.logbook.sessions import Session, find, sessions
from voicecheck.logbook.wording import clean, moment, named, stream
from voicecheck.words import say, speaking

LONGEST_CLIP: Final = 60.0
"""Seconds of sound given at once."""


@dataclass(frozen=True, slots=True)
class Sound:
    """A recording; its first sample was taken at stream time `at`, in seconds."""

    path: Path
    at: float


class Review:
    """The sessions of a log. recordings: where their sound may be; default beside the log."""

    def __init__(self, log: Path, recordings: Path | None = None) -> None:
        self._log = log
        self._recordings = recordings or log.absolute().parent / "recordings"

    def sessions(self) -> list[dict[str, Any]]:
        """Newest first; one that cannot be read says why."""
        listed = []
        for entry in sessions(self._log):
            if isinstance(entry, Session):
                header = entry.journal.header
                listed.append(
                    {
                        "id": entry.id,
                        "started": moment(header.started),
                        "airframe": clean(header.airframe),
                        "title": clean(header.checklist.title),
                        "result": outcome(entry),
                        "problem": None,
                    }
                )
            else:
                listed.append({"id": None, "problem": clean(entry.problem)})
        return listed

    def session(self, wanted: str) -> dict[str, Any]:
        """Everything about one session. Raises VoicecheckError when it cannot be read."""
        session = find(self._log, wanted)
        with speaking(session.words):
            return self._told(session)

    def _told(self, session: Session) -> dict[str, Any]:
        header = session.journal.header
        told = list(_numbered(session))
        ends = [t for row, _ in told for t in (row.start, row.end) if t is not None]
        notes: dict[int, list[dict[str, Any]]] = {}
        problem = None
        try:
            for note in read_annotations(session.folder):
                notes.setdefault(note.line, []).append(
                    {"utc": moment(note.utc), "text": note.text, "by": note.by}
                )
        except VoicecheckError as error:
            problem = str(error)
        return {
            "id": session.id,
            "words": session.words,
            "title": clean(header.checklist.title),
            "airframe": clean(header.airframe),
            "operator": clean(header.operator),
            "started": moment(header.started),
            "result": outcome(session),
            "record": words(verify_session(session.folder)),
            "caution": say("caution"),
            "seconds": max([1.0, *ends]),
            "items": _items(session),
            "rows": [_row(row, n) for row, n in told],
            "prompts": [(row.start, row.end) for row in spoken(session.journal)],
            "sound": bool(self._sounds(session)),
            "notes": notes,
            "notes_problem": problem,
        }

    def clip(self, wanted: str, start: float, end: float) -> bytes | None:
        """A mono WAV of the stream from `start` to `end` seconds; None where nothing is recorded.

        Silence stands where the recording has none. Raises VoicecheckError.
        """
        if not (math.isfinite(start) and math.isfinite(end)):
            return None
        start = max(0.0, start)
        length = min(end - start, LONGEST_CLIP)
        sounds = self._sounds(find(self._log, wanted))
        if not length > 0 or not sounds:
            return None
        clip = np.zeros(int(length * RATE), np.int16)
        for sound in sounds:
            _lay(clip, sound, start)
        file = io.BytesIO()
        soundfile.write(file, clip, RATE, format="WAV", subtype="PCM_16")
        return file.getvalue()

    def annotate(self, wanted: str, line: int, text: str, by: str | None) -> None:
        """Append a remark on a line of the journal. Raises VoicecheckError."""
        session = find(self._log, wanted)
        annotate(session.folder, line, text, by=by, now=datetime.now(UTC))

    def _sounds(self, session: Session) -> list[Sound]:
        found = [
            Sound(path, 0.0)
            for path in sorted(session.folder.iterdir())
            if path.suffix in (".wav", ".flac") and path.is_file() and not path.is_symlink()
        ][:1]
        return found or [
            Sound(self._recordings / name, at)
            for name, at in _named(session)
            if Path(name).name == name and (self._recordings / name).is_file()
        ]


def _named(session: Session) -> list[tuple[str, float]]:
    """The recordings that the journal names, and the stream time at which each begins."""
    found: list[tuple[str, float]] = []
    before, _, after = session.words.record["remark-recorded"].partition("{name}")
    for line in session.journal.lines:
        text = str(line.fields.get("text", ""))
        at = line.fields.get("at", 0.0)
        if line.kind is Kind.REMARK and text.startswith(before) and text.endswith(after):
            found.append((text.removeprefix(before).removesuffix(after), _seconds(at)))
    source = session.journal.header.source
    if not found and source.kind == "file":
        found.append((source.name, 0.0))
    return found


def _seconds(value: object) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _lay(clip: np.ndarray[Any, np.dtype[np.int16]], sound: Sound, start: float) -> None:
    """Put what the recording has from stream time `start` on into the clip."""
    at = 0
    first = round((sound.at - start) * RATE)
    for block in WavSource(sound.path).blocks():
        begin = first + at
        at += len(block)
        if begin >= len(clip):
            return
        if begin + len(block) <= 0:
            continue
        cut = block.mixed[max(0, -begin) : len(clip) - begin]
        place = max(0, begin)
        clip[place : place + len(cut)] = cut


def _numbered(session: Session) -> Iterator[tuple[Row, int]]:
    journal = session.journal
    for line in journal.lines:
        for row in rows(replace(journal, lines=(line,))):
            yield row, line.n


_CREW: Final = (Who.PILOT, Who.SECOND, Who.KEY, Who.TOUCH, Who.UNCLEAR, Who.IGNORED)


def _row(row: Row, line: int) -> dict[str, Any]:
    return {
        "line": line,
        "start": row.start,
        "end": row.end if row.end is not None else row.start,
        "at": stream(row.start) if row.start is not None else "",
        "who": row.who.value,
        "by": named("who", row.who.lower()),
        "text": row.text,
        "crew": row.who in _CREW,
    }


def _items(session: Session) -> list[dict[str, Any]]:
    if session.summary is None:
        return []
    return [
        {
            "position": clean(item.position_name),
            "expected": clean(item.expected),
            "called": clean(item.called) if item.called else "",
            "outcome": item.outcome,
            "told": named("outcome", item.outcome),
            "reason": clean(item.reason) if item.reason else "",
            "start": item.times.start if item.times else None,
            "end": item.times.end if item.times else None,
            "at": stream(item.times.start) if item.times else "",
        }
        for item in session.summary.items
    ]
