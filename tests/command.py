"""The command line in this process."""

from __future__ import annotations

import sys

import pytest

from voicecheck.cli import main


def call(*arguments: object, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    """Run the command in this process; returns status, standard output, standard error."""
    old = sys.argv
    sys.argv = ["voicecheck", *map(str, arguments)]
    try:
        with pytest.raises(SystemExit) as ended:
            main()
    finally:
        sys.argv = old
    out, err = capsys.readouterr()
    code = ended.value.code or 0
    return (code if isinstance(code, int) else 1), out, err


def refused(*arguments: object, capsys: pytest.CaptureFixture[str]) -> str:
    """The one line of a refusal."""
    status, out, err = call(*arguments, capsys=capsys)
    text = out + err
    assert status == 2, text
    assert "Traceback" not in text
    lines = [line for line in text.splitlines() if line.startswith("voicecheck: ")]
    assert len(lines) == 1, text
    return lines[0]
