"""What can be heard of a session: the lines of its journal, also of another program's."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from voicecheck.journal.format import JOURNAL

REACTIONS = frozenset({"heard", "unclear", "overheard", "keypressed"})
"""Events that somebody's words come to."""


@dataclass(frozen=True, slots=True)
class Line:
    """One event of a journal. prompts: (id, values, words spoken) of what was said upon it."""

    event: dict[str, Any]
    prompts: tuple[tuple[str, dict[str, str], str], ...]
    notes: tuple[dict[str, Any], ...]

    @property
    def reacts(self) -> bool:
        """Whether it answers words."""
        return self.event["type"] in REACTIONS

    @property
    def channel(self) -> int:
        """The microphone that the words came through."""
        return int(self.event.get("channel", 0))


@dataclass(slots=True)
class ListeningIn:
    """Reads the next session that is begun below `log`. lines: all that was read, JSON-ready."""

    log: Path
    lines: list[dict[str, Any]] = field(default_factory=list)
    _left: bytes = b""
    _at: int = 0
    _journal: Path | None = None
    _old: frozenset[Path] = frozenset()

    def __post_init__(self) -> None:
        self._old = frozenset(self.log.glob(f"*/{JOURNAL}"))

    def poll(self) -> list[Line]:
        """What has been written since the last time; nothing before the session has begun."""
        if self._journal is None:
            found = sorted(set(self.log.glob(f"*/{JOURNAL}")) - self._old)
            if not found:
                return []
            self._journal = found[-1]
        with self._journal.open("rb") as file:
            file.seek(self._at)
            fresh = file.read()
        self._at += len(fresh)
        *whole, self._left = (self._left + fresh).split(b"\n")
        read = [json.loads(line) for line in whole]
        self.lines += read
        return [line_of(facts) for facts in read if facts.get("kind") == "event"]


def line_of(facts: Mapping[str, Any]) -> Line:
    """A line of the kind "event", JSON-ready."""
    effects = facts["effects"]
    says = [effect for effect in effects if effect["type"] == "say"]
    words = list(facts["said"]) + [""] * len(says)
    prompts = tuple(
        (say["prompt"], say["values"], said) for say, said in zip(says, words, strict=False)
    )
    notes = tuple(effect for effect in effects if effect["type"] == "note")
    return Line(facts["event"], prompts, notes)
