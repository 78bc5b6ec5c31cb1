"""Options of the screens, and what they do not cost who does not use them."""

from __future__ import annotations

import subprocess
import sys

import pytest
from typer.testing import CliRunner

from voicecheck.cli import app
from voicecheck.errors import VoicecheckError


def test_no_command_loads_a_web_server_or_a_screen_before_it_needs_one() -> None:
    program = (
        "import sys, voicecheck.cli;"
        "heavy = {'starlette', 'uvicorn', 'websockets', 'textual', 'watchfiles', 'jinja2.ext'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert found.stdout.strip() == "[]", found.stdout + found.stderr


@pytest.mark.parametrize(
    ("options", "problem"),
    [
        (["--address", "127.0.0.1"], "--address goes with --kneeboard"),
        (["--stay"], "--stay goes with --kneeboard"),
        (["--pair"], "--pair and --port go with --kneeboard"),
        (["--port", "8000"], "--pair and --port go with --kneeboard"),
        (["--kneeboard", "--address", "nowhere"], "not an IP address"),
        (["--kneeboard", "--address", "0.0.0.0"], "would listen everywhere"),
    ],
)
def test_options_that_cannot_work_are_told(options: list[str], problem: str) -> None:
    result = CliRunner().invoke(
        app, ["run", "skerry-j2", "--airframe", "ZZ-HJC", "--from", "none.wav", *options]
    )
    assert isinstance(result.exception, VoicecheckError)
    assert problem in str(result.exception)


def test_a_recordings_folder_that_is_none_is_told() -> None:
    result = CliRunner().invoke(app, ["kneeboard", "--recordings", "nowhere"])
    assert "is no folder" in str(result.exception)
