"""Help, examples, the page of commands and completion: all are what the commands are today."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import typer
from command import call

from command_page import page, write
from voicecheck.cli import app
from voicecheck.cli.examples import EXAMPLES, commands
from voicecheck.errors import VoicecheckError
from voicecheck.shipped import checklists_dir

PAGE = Path(__file__).resolve().parents[2] / "docs" / "commands.md"
COMMANDS = [path for path, _ in commands(app)]


def leaf(path: str) -> Any:
    found: Any = typer.main.get_command(app)
    for word in path.split():
        found = found.commands[word]
    return found


def test_the_page_is_current() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "out of date; run: make docs"


def test_the_page_has_every_command() -> None:
    text = page()
    assert [path for path in COMMANDS if f"\n## voicecheck {path}\n" not in text] == []


def test_every_command_has_an_example_and_no_other_has() -> None:
    assert sorted(EXAMPLES) == sorted(COMMANDS)
    assert all(EXAMPLES.values())


@pytest.mark.parametrize(
    ("path", "line"), [(path, line) for path, lines in EXAMPLES.items() for line, _ in lines]
)
def test_an_example_can_be_typed(path: str, line: str) -> None:
    """Its options exist and take such values; nothing is run."""
    words = shlex.split(line)
    assert words[: len(path.split())] == path.split()
    context = leaf(path).make_context(path, words[len(path.split()) :])
    assert context.params


@pytest.mark.parametrize("path", COMMANDS)
def test_every_option_is_explained(path: str) -> None:
    command = leaf(path)
    assert command.help
    # What is left without help says all by its name.
    silent = {p.name for p in command.params if not getattr(p, "help", None)}
    assert silent <= {"help"}, silent


def test_help_shows_the_examples(capsys: pytest.CaptureFixture[str]) -> None:
    for path in ("run", "log report"):
        status, out, _ = call(*path.split(), "--help", capsys=capsys)
        assert status == 0
        for line, _ in EXAMPLES[path]:
            assert f"voicecheck {line}\n" in out


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("voicecheck run sk", ["skerry-j2"]),
        ("voicecheck run skerry-j2 --airframe ZZ-HJ", ["ZZ-HJA", "ZZ-HJB", "ZZ-HJC", "ZZ-HJD"]),
        ("voicecheck run none.yaml --airframe ZZ-", []),
        ("voicecheck resume lat", ["latest"]),
    ],
)
def test_the_tab_key(line: str, offered: list[str], tmp_path: Path) -> None:
    """As the script does that `--show-completion` prints for bash."""
    environment = {
        **os.environ,
        "_VOICECHECK_COMPLETE": "complete_bash",
        "COMP_WORDS": line,
        "COMP_CWORD": str(len(line.split()) - 1),
        "XDG_STATE_HOME": str(tmp_path),
    }
    program = "from voicecheck.cli import app; app(prog_name='voicecheck')"
    made = subprocess.run(
        [sys.executable, "-c", program], env=environment, capture_output=True, text=True,
        check=False, cwd=tmp_path,
    )  # fmt: skip
    assert "Traceback" not in made.stderr
    assert made.stdout.split() == offered


def test_completion_knows_the_shipped_fleet() -> None:
    from voicecheck.cli.completion import checklists

    assert checklists("") == sorted(path.stem for path in checklists_dir().glob("*.yaml"))


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="cannot be written"):
        write(tmp_path / "none" / "commands.md")
