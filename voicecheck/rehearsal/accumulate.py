"""Sessions kept in a file as they end, so that a long run can be broken off and gone on with.

One JSON line says on what terms the sessions were played, and then there is one for each. A
line that was being written when the machine stopped is dropped and its session played again.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.outcome import Outcome

SCHEMA: Final = 1
_OUTCOME: Final = TypeAdapter(Outcome)

Key = tuple[float | None, int]
"""Noise level and number of a session."""


class Accumulated:
    """The file of one run. terms: JSON-ready; sessions on other terms are not put beside these.

    Raises VoicecheckError when the file cannot be read or written, or is of another run.
    """

    def __init__(self, path: Path, terms: Mapping[str, Any]) -> None:
        self._path = path
        self._found: dict[Key, Outcome] = {}
        first = json.loads(json.dumps({"schema": SCHEMA, **terms}))
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            text = path.read_bytes() if path.exists() else b""
            whole = text[: text.rfind(b"\n") + 1]
            if text and not whole:
                raise _not_ours(f"{path}:1")
            for number, line in enumerate(whole.decode("utf-8").splitlines(), 1):
                self._take(line, number, first)
            if len(whole) < len(text):
                os.truncate(path, len(whole))
            if not whole:
                self._append(first)
        except OSError as error:
            raise VoicecheckError(
                f"{path}: sessions cannot be kept ({error.strerror}); name another file with --keep"
            ) from None
        except UnicodeDecodeError:
            raise _not_ours(f"{path}:1") from None

    def of(self, db: float | None, sessions: int) -> Iterator[Outcome]:
        """What was kept of the first `sessions` sessions at a noise level, in their order."""
        for number in range(sessions):
            if (db, number) in self._found:
                yield self._found[db, number]

    def missing(self, db: float | None, sessions: int) -> list[int]:
        """Numbers of the sessions that are still to be played at a noise level."""
        return [number for number in range(sessions) if (db, number) not in self._found]

    def add(self, outcome: Outcome) -> None:
        """Keep a session that has ended. What went wrong in it is kept elsewhere in full."""
        self._found[outcome.noise_db, outcome.number] = outcome
        facts = asdict(replace(outcome, evidence={}))
        del facts["evidence"]
        try:
            self._append(facts)
        except OSError as error:
            raise VoicecheckError(
                f"{self._path}: session {outcome.number} cannot be kept ({error.strerror}); "
                "make room and start again, what is in the file counts"
            ) from None

    def _append(self, facts: Mapping[str, Any]) -> None:
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(facts, ensure_ascii=False) + "\n")
            file.flush()
            os.fsync(file.fileno())

    def _take(self, line: str, number: int, first: Mapping[str, Any]) -> None:
        where = f"{self._path}:{number}"
        try:
            facts = json.loads(line)
            if number > 1:
                outcome: Outcome = _OUTCOME.validate_python(facts)
                self._found[outcome.noise_db, outcome.number] = outcome
                return
            differs = sorted(k for k in first if facts.get(k) != first[k])
        except (ValueError, TypeError, AttributeError, KeyError):
            raise _not_ours(where) from None
        if differs:
            told = "; ".join(f"{key}: {facts.get(key)!r}, now {first[key]!r}" for key in differs)
            raise VoicecheckError(
                f"{where}: these sessions were played on other terms ({told}); "
                "name another file with --keep"
            )


def _not_ours(where: str) -> VoicecheckError:
    return VoicecheckError(f"{where}: not a line of kept sessions; name another file with --keep")
