"""A session's recording: sound and captions beside each other, kept for so long and no longer.

Captions are WebVTT (W3C Candidate Recommendation, 4 April 2019): what was understood and what was
said, at the times of the sound, so that record and sound can be checked against each other.
"""

from __future__ import annotations

import re
import time
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TextIO

from voicecheck.audio.prompts import Playback
from voicecheck.audio.recorder import Recorder
from voicecheck.audio.source import RATE, Block, Channels
from voicecheck.caution import CAUTION
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import RecordingOptions
from voicecheck.words import say

_NAME: Final = re.compile(r"^[0-9]{8}T[0-9]{6}Z-[A-Za-z0-9-]{1,40}(\.part[0-9]+)?\.(wav|flac|vtt)$")
"""What a recording is called; nothing else in the folder is ever deleted."""
_SHORTEST: Final = 0.001


@dataclass(frozen=True, slots=True)
class Cue:
    """Something said, from start to end in seconds of the recording."""

    start: float
    end: float
    who: str
    text: str

    def __str__(self) -> str:
        times = f"{_stamp(self.start)} --> {_stamp(max(self.end, self.start + _SHORTEST))}"
        return f"{times}\n<v {self.who}>{_escaped(self.text)}\n"


class Recording:
    """Sound and captions of one session, or of its part after a resume.

    offset: stream time at which it begins. Raises VoicecheckError if it cannot be begun.
    """

    def __init__(
        self, options: RecordingOptions, session: str, channels: Channels, offset: float = 0.0
    ) -> None:
        folder = options.folder
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise VoicecheckError(
                f"{folder}: cannot be made ({error.strerror}); choose another with --recordings"
            ) from None
        expire(folder, options.keep_days)
        sound = _free(folder, session).with_suffix(f".{options.kind}")
        self._offset = offset
        self._samples = 0
        self._own: deque[tuple[Playback, str]] = deque()
        self._recorder = Recorder(sound, channels, options.kind)
        self.captions: Final = sound.with_suffix(".vtt")
        self._file: TextIO | None = self.captions.open("x", encoding="utf-8")
        self.captions.chmod(0o600)
        self._file.write(_head())
        self._file.flush()

    @property
    def path(self) -> Path:
        """The sound file."""
        return self._recorder.path

    @property
    def failed(self) -> str | None:
        """Why no more is recorded, once that is so."""
        return self._recorder.failed

    def gave(self, playback: Playback, text: str) -> None:
        """We said this, or are about to; text is empty for a tone."""
        self._own.append((playback, text))

    def add(self, block: Block) -> None:
        """The next block of the microphone."""
        begin = self._offset + self._samples / RATE
        self._recorder.add(block, begin, [playback for playback, _ in self._own])
        self._samples += len(block)
        self._settle(begin)

    def heard(self, start: float, end: float, channel: int, text: str) -> None:
        """The crew was understood, at these stream times; or was not, as `text` says."""
        self._cue(Cue(start - self._offset, end - self._offset, _crew(channel), text))

    def close(self) -> None:
        """Write what is left, captions in the order of their times; safe twice."""
        self._settle(float("inf"))
        self._recorder.close()
        if self._file is None:
            return
        try:
            self._file.close()
            if self.failed is None:
                _put_in_order(self.captions)
        except OSError as error:
            self._recorder.failed = self.failed or f"{self.captions}: {error.strerror}"
        self._file = None

    def _settle(self, until: float) -> None:
        """Caption what we said and have finished saying."""
        while self._own and self._own[0][0].over_by(until):
            playback, text = self._own.popleft()
            if text and playback.start is not None and playback.end is not None:
                start, end = playback.start - self._offset, playback.end - self._offset
                self._cue(Cue(start, end, say("caption-voice"), text))

    def _cue(self, cue: Cue) -> None:
        # On disk at once: a crash loses none and memory holds none. Put in order at the end.
        if self._file is not None and self.failed is None:
            try:
                self._file.write(f"\n{cue}")
                self._file.flush()
            except OSError as error:
                self._recorder.failed = f"{self.captions}: {error.strerror}"


def expire(folder: Path, days: int) -> list[Path]:
    """Delete recordings older than so many days; returns what was deleted."""
    oldest = time.time() - days * 86_400
    gone = []
    for path in folder.iterdir():
        if _NAME.match(path.name) and path.is_file() and path.stat().st_mtime < oldest:
            path.unlink(missing_ok=True)
            gone.append(path)
    return gone


def _free(folder: Path, session: str) -> Path:
    """The session's captions, or those of its next part where it was resumed."""
    path, part = folder / f"{session}.vtt", 1
    while any(path.with_suffix(suffix).exists() for suffix in (".wav", ".flac", ".vtt")):
        part += 1
        path = folder / f"{session}.part{part}.vtt"
    return path


def _put_in_order(captions: Path) -> None:
    """Cues in the order of their times, as WebVTT asks."""
    head, *cues = captions.read_text("utf-8").removesuffix("\n").split("\n\n")
    note, *cues = cues
    text = "\n\n".join([head, note, *sorted(cues, key=_times)]) + "\n"
    finished = captions.with_suffix(".vtt.new")
    finished.write_text(text, encoding="utf-8")
    finished.chmod(0o600)
    finished.replace(captions)


def _times(cue: str) -> list[tuple[int, str]]:
    """What a cue is sorted by: start and end, whose hours have no fixed width."""
    return [(len(time), time) for time in cue.split("\n", 1)[0].split(" --> ")]


def _head() -> str:
    return f"WEBVTT\n\nNOTE\n{CAUTION}\n"


def _stamp(seconds: float) -> str:
    thousandths = max(0, round(seconds * 1000))
    minutes, rest = divmod(thousandths, 60_000)
    return f"{minutes // 60:02}:{minutes % 60:02}:{rest // 1000:02}.{rest % 1000:03}"


def _escaped(text: str) -> str:
    """As cue text: no markup, no line break, no arrow."""
    plain = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return " ".join(plain.split())


def _crew(channel: int) -> str:
    return say("caption-second" if channel else "caption-pilot")
