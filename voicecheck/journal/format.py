"""What a journal looks like on disk: names, limits, kinds of line."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

SCHEMA: Final = 1
JOURNAL: Final = "journal.jsonl"
TORN: Final = "journal.torn"
"""Beside the journal: the bytes of lines that a crash cut short, kept as they were."""

MAX_LINE: Final = 8 * 2**20
"""Bytes in one line. A resolved checklist takes tens of thousands."""
MAX_FILE: Final = 256 * 2**20
"""Bytes in one journal. An hour's session takes a few millions."""


class Kind(enum.StrEnum):
    """What a line tells."""

    HEADER = "header"
    EVENT = "event"
    SPEECH = "speech"
    """What was heard and never reached the engine."""
    RESUMED = "resumed"
    REMARK = "remark"
    SUMMARY = "summary"
    """The last line of a finished journal; nothing follows it."""


OWN: Final = frozenset({"n", "prev", "kind", "utc"})
"""Keys that the writer sets; the rest of a line is its fields."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line as read. n counts from 0; utc is RFC 3339 text; fields is all else."""

    n: int
    kind: Kind
    utc: str
    fields: Mapping[str, object]
