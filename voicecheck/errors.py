"""The one family of errors that a user is meant to read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

_BREAKS: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029]")
"""Controls, and what breaks a line besides the plain newline: they come with quoted input."""


class VoicecheckError(Exception):
    """Bad input or a missing part, told in one line with its remedy (exit status 2)."""

    def __str__(self) -> str:
        return _BREAKS.sub(lambda found: ascii(found[0])[1:-1], super().__str__())


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
