"""All the words that a checklist can make a crew say, and where each one comes from."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from voicecheck.checklist.resolved import Checklist
from voicecheck.errors import Place


def phrases(checklist: Checklist) -> Iterator[str]:
    """Every wording of every callout, commands included; some more than once."""
    for wordings in checklist.commands.values():
        yield from wordings
    for wordings in checklist.reasons.values():
        yield from wordings
    for bus in checklist.buses:
        yield from (*bus.on, *bus.off)
    for position in checklist.positions:
        yield from (*position.select, *position.disregard)
        for item in position.called:
            for reading in (*item.readings, *item.darks):
                yield from reading.phrases
    for gone in checklist.not_fitted:
        if gone.say is not None:
            yield gone.say


def words(checklist: Checklist) -> tuple[str, ...]:
    """The distinct words, sorted."""
    return tuple(sorted({word for phrase in phrases(checklist) for word in phrase.split()}))


def place_of(word: str, files: tuple[Path, ...]) -> Place:
    """The first line of the files in which the word stands; the first file if none has it."""
    wanted = re.compile(rf"(?<![\w']){re.escape(word)}(?![\w'])", re.IGNORECASE)
    for file in files:
        for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
            found = wanted.search(line.split("#", 1)[0] if line.lstrip().startswith("#") else line)
            if found:
                return Place(str(file), number, found.start() + 1)
    return Place(str(files[0]))
