"""Whether a finding says what the crew called, and not another fault of the same item.

A lamp that is logged dark must have been named dark, and the last bad news that got through
must stand in the log: the wrong lamp would send maintenance to the wrong place.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from voicecheck.checklist.resolved import Item, Reading
from voicecheck.rehearsal.account import Entry


def other_fault(
    item: Item, finding: Mapping[str, Any], called: Sequence[Entry], all_said: Iterable[Entry]
) -> str | None:
    """What the finding says otherwise than the crew; None if nothing.

    finding: as in the engine's result. called: bad calls about the item that stand and got
    through, of one visit, in order, at least one. all_said: every call about it that was not
    taken back.
    """
    readings = {reading.key: reading for reading in (*item.readings, *item.darks)}
    logged = set(finding["lamp"].split(", ")) if finding["lamp"] else set()
    unsaid = logged - _lamps(readings[entry.key] for entry in all_said)
    if unsaid:
        return f"logged {', '.join(sorted(unsaid))} dark, and nobody called it so"
    last = readings[called[-1].key]
    if last in item.darks:
        right = set(last.lamps) <= logged
    else:
        right = finding["what"] == last.finding and logged == set(last.lamps)
    return None if right else f"called '{called[-1].words}', logged '{finding['what']}'"


def _lamps(readings: Iterable[Reading]) -> set[str]:
    return {lamp for reading in readings for lamp in reading.lamps}
