"""What is printed at the end names only files that this run wrote."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from cockpit import Cockpit
from rich.console import Console

from voicecheck.cli.outcome import tell
from voicecheck.errors import VoicecheckError
from voicecheck.logbook.filing import REPORT
from voicecheck.logbook.spool import expect
from voicecheck.session import filing
from voicecheck.session.filing import file_outputs, file_session
from voicecheck.session.run import Finished


def ended(folder: Path) -> tuple[Cockpit, dict[str, Any]]:
    cockpit = Cockpit(folder)
    cockpit.say("battery on and avionics on")
    expect(folder, cockpit.folder.name)
    return cockpit, cockpit.close()


def printed(finished: Finished) -> str:
    text = io.StringIO()
    tell(finished, Console(file=text, width=200), as_json=False)
    return text.getvalue()


def test_a_report_that_was_written_is_named(tmp_path: Path) -> None:
    cockpit, summary = ended(tmp_path)
    written = file_outputs(cockpit.folder, summary, b"", cockpit.display)
    shown = printed(Finished(summary, cockpit.folder, None, written=frozenset(written)))
    assert str(cockpit.folder / REPORT) in shown
    assert (cockpit.folder / REPORT).exists()


def test_a_report_that_was_not_written_is_not_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not even where an old one lies there, as `log report` makes it of an unfinished session."""
    cockpit, summary = ended(tmp_path)
    old = cockpit.folder / REPORT
    old.write_text("of before")

    def full(path: Path, content: str | bytes) -> None:
        if path.name == REPORT:
            raise VoicecheckError(f"{path}: cannot be written (No space left on device)")
        path.write_text(str(content))

    monkeypatch.setattr(filing, "file_text", full)
    written = file_outputs(cockpit.folder, summary, b"", cockpit.display)
    written += file_session(cockpit.folder, None, None, cockpit.display)
    shown = printed(Finished(summary, cockpit.folder, None, written=frozenset(written)))
    assert str(old) not in shown
    assert "summary.json" in shown
    assert any("No space left" in text for text in cockpit.display.texts)
    assert old.read_text() == "of before"


def test_a_report_that_was_written_at_the_second_attempt_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cockpit, summary = ended(tmp_path)
    tries: list[Path] = []

    def full_at_first(path: Path, content: str | bytes) -> None:
        if path.name == REPORT and not tries:
            tries.append(path)
            raise VoicecheckError(f"{path}: cannot be written (No space left on device)")
        path.write_text(str(content))

    monkeypatch.setattr(filing, "file_text", full_at_first)
    written = file_outputs(cockpit.folder, summary, b"", cockpit.display)
    assert cockpit.folder / REPORT not in written
    written += file_session(cockpit.folder, None, None, cockpit.display)
    assert str(tries[0]) in printed(
        Finished(summary, cockpit.folder, None, written=frozenset(written))
    )
