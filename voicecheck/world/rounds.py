"""What a crew calls that finds everything as it should be, once round a checklist."""

from __future__ import annotations

from collections.abc import Iterator

from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item


def usual_calls(checklist: Checklist) -> Iterator[str]:
    """Words: each bus on and affirmed, each position but off, and its items but timed ones."""
    for bus in checklist.buses:
        yield from (bus.on[0], checklist.commands["affirm"][0])
    for position in checklist.positions:
        if position.id == OFF:
            continue
        yield position.select[0]
        for item in position.items:
            words = good_words(item)
            if words is not None and item.window is None:
                yield words


def good_words(item: Item) -> str | None:
    """How an item is called good; None if it cannot be."""
    return next((r.phrases[0] for r in item.readings if r.grade is Grade.GOOD), None)
