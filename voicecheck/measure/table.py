"""A measurement as a table, for people and for programs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Cell = str | int | float | None


@dataclass(frozen=True, slots=True)
class Table:
    """columns: names with their units; rows: one cell for each column; notes: how to read it."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """JSON-ready, one mapping for each row."""
        return {
            "title": self.title,
            "rows": [dict(zip(self.columns, row, strict=True)) for row in self.rows],
            "notes": list(self.notes),
        }
