"""The manifest of a corpus: one JSON object a line, each a recording and what is said in it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.measure.sentences import Kind
from voicecheck.world.talkers import Part

Aim = Literal["any", "good"]


class Line(BaseModel):
    """One recording.

    audio: WAV or FLAC, from the manifest's folder; checklist: a type file or a shipped id;
    state: a name that `voicecheck measure callouts` prints; said: a callout's key or words of
    the state's grammar (several in one breath with "and"), or null when what is said is no
    callout there; start_s, end_s: seconds to where speech begins and ends; text: what the voice
    said, where that is known; aim: "good" where it is said for, or nearly for, a callout that
    closes something as good.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    audio: str = Field(min_length=1)
    checklist: str = Field(min_length=1)
    airframe: str = Field(min_length=1)
    state: str = Field(min_length=1)
    said: str | None
    end_s: float | None = Field(default=None, ge=0, allow_inf_nan=False)
    start_s: float | None = Field(default=None, ge=0, allow_inf_nan=False)
    noise: str = "unlabelled"
    kind: Kind | None = None
    aim: Aim = "any"
    voice: str = "unnamed"
    part: Part | None = None
    text: str | None = None

    @property
    def of_kind(self) -> Kind:
        """The kind; where none is given it follows from whether a callout is said."""
        return self.kind or ("callout" if self.said is not None else "chatter")


def read_manifest(path: Path) -> tuple[tuple[int, Line], ...]:
    """Line numbers (from 1) and lines. Raises InputError with file, line and remedy."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "not UTF-8 text"
        raise VoicecheckError(
            f"{path}: cannot be read ({reason}); make one with 'voicecheck measure make-corpus'"
        ) from error
    lines = tuple(
        (number, _line(path, number, written))
        for number, written in enumerate(text.split("\n"), 1)
        if written.strip()
    )
    if not lines:
        raise InputError(Place(str(path), 1), "no recording in it", "give one JSON object a line")
    return lines


def _line(path: Path, number: int, written: str) -> Line:
    try:
        data: Any = json.loads(written)
    except (ValueError, RecursionError) as error:
        column = getattr(error, "colno", None)
        problem = getattr(error, "msg", str(error))
        raise InputError(
            Place(str(path), number, column),
            f"not JSON ({problem})",
            "write one JSON object on this line",
        ) from error
    try:
        line = Line.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"]) or "the line"
        raise InputError(
            Place(str(path), number),
            f"{where}: {first['msg']}",
            "see 'voicecheck measure corpus --help' for the fields of a line",
        ) from error
    if line.said is not None and line.end_s is None:
        raise InputError(
            Place(str(path), number),
            "end_s: missing where a callout is said",
            "give the seconds from the start of the recording to the end of speech",
        )
    return line


def audio_path(manifest: Path, number: int, line: Line) -> Path:
    """The recording of a line. Raises InputError when it is not there."""
    audio = manifest.parent / line.audio
    if not audio.is_file():
        raise InputError(
            Place(str(manifest), number),
            f"audio: no file {line.audio} beside the manifest",
            "correct the path, or make the corpus again",
        )
    return audio
