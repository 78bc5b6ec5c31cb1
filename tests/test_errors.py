"""What is quoted from bad input cannot break an error's line, nor command the terminal."""

from __future__ import annotations

import pytest

from voicecheck.errors import InputError, Place, VoicecheckError


@pytest.mark.parametrize("odd", ["\x85", "\u2028", "\x0b", "\x1e", "\r", "\x1b[2J", "\x9b2J"])
def test_one_line_whatever_is_quoted(odd: str) -> None:
    error = InputError(Place("log/journal.jsonl", 3), f"the summary is of {odd}", "restore it")
    assert len(str(error).splitlines()) == 1
    assert odd[0] not in str(error)
    assert ascii(odd[0])[1:-1] in str(error)


def test_what_is_printable_stays_as_it_is() -> None:
    assert str(VoicecheckError("Größe: 3 µs, 日本")) == "Größe: 3 µs, 日本"
