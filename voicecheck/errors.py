"""The one family of errors that a user is meant to read."""

from __future__ import annotations

from dataclasses import dataclass


class VoicecheckError(Exception):
    """Bad input or a missing part, told in one line with its remedy (exit status 2)."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a file something stands; line and column count from 1."""

    file: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        parts = [self.file, *(str(n) for n in (self.line, self.column) if n is not None)]
        return ":".join(parts)


class InputError(VoicecheckError):
    """Something in a user's file is wrong: where, what, what was expected, how to mend it."""

    def __init__(self, place: Place, problem: str, remedy: str) -> None:
        super().__init__(f"{place}: {problem}; {remedy}")
        self.place = place
        self.problem = problem
        self.remedy = remedy
