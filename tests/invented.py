"""Invented sessions in a log folder."""

from __future__ import annotations

from pathlib import Path

from voicecheck.measure.invented_log import Invented, journal_of


def place(log: Path, one: Invented) -> Path:
    """Put an invented session into a log folder; returns its folder."""
    folder = log / one.id
    folder.mkdir(parents=True, exist_ok=True)
    data, crew = journal_of(one)
    (folder / "journal.jsonl").write_bytes(data)
    if crew is not None:
        (folder / "crew.json").write_text(crew, encoding="utf-8")
    return folder
