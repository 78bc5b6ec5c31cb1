from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from voicecheck.caution import CAUTION
from voicecheck.journal.writer import JournalWriter

SESSION = "20261125T061500Z-ZZ-HAA-4f2a"


@pytest.fixture
def header() -> dict[str, object]:
    return {
        "schema": 1,
        "session": SESSION,
        "voicecheck": "0.1.0",
        "started": "2026-11-25T06:15:00.000Z",
        "airframe": "ZZ-HAA",
        "operator": "Hollin Air Ambulance",
        "checklist": {
            "id": "tarn-40",
            "title": "Tarn 40 warning systems",
            "sha256": "ab" * 32,
            "resolved": {"positions": []},
        },
        "crew": {"pilot": "Å. Wren", "second": None},
        "source": {"kind": "file", "name": "morning.wav"},
        "listeners": ["pocketsphinx"],
        "language": "en",
        "rate": 16000,
        "settings": {},
        "caution": CAUTION,
    }


@pytest.fixture
def finished(tmp_path: Path, header: dict[str, object]) -> Path:
    """A small finished journal: header, two events, one speech line, summary."""
    with closing(JournalWriter.create(tmp_path / SESSION, header)) as writer:
        writer.append("event", {"event": {"type": "began", "now": 0.0}}, "2026-11-25T06:15:00Z")
        writer.append(
            "event",
            {"event": {"type": "heard", "words": "three green"}, "said": ["Näxt"]},
            "2026-11-25T06:15:07.25Z",
        )
        writer.append("speech", {"reason": "chatter", "text": "x"}, "2026-11-25T06:15:09.001Z")
        writer.append("summary", {"summary": {"complete": True}}, "2026-11-25T06:16:00Z")
    return tmp_path / SESSION / "journal.jsonl"


@pytest.fixture
def unfinished(tmp_path: Path, header: dict[str, object]) -> Path:
    """The same session, killed before its summary."""
    with closing(JournalWriter.create(tmp_path / "killed" / SESSION, header)) as writer:
        for second in range(4):
            writer.append("remark", {"text": f"r{second}"}, f"2026-11-25T06:15:0{second}Z")
    return tmp_path / "killed" / SESSION / "journal.jsonl"


@pytest.fixture
def rewrite(tmp_path: Path) -> Callable[[bytes], Path]:
    """Put altered bytes into a journal file of their own."""

    def put(data: bytes) -> Path:
        path = tmp_path / "altered.jsonl"
        path.write_bytes(data)
        return path

    return put
