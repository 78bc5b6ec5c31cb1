"""Invented sessions in a log folder."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
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


def series(
    airframe: str,
    count: int,
    *,
    first: datetime | None = None,
    rise: float = 0.0,
    noise: float = 0.1,
) -> list[Invented]:
    """One session a day whose timed light takes `rise` seconds longer every day.

    noise: half the spread of the values, by a fixed sequence, so that all is the same again.
    """
    begin = first or datetime(2026, 1, 5, 6, 15, tzinfo=UTC)
    return [
        Invented(
            airframe,
            begin + timedelta(days=day),
            out=4.0 + rise * day + noise * (((day * 7919) % 101) / 50 - 1),
            suffix=f"{day % 65536:04x}",
        )
        for day in range(count)
    ]
