"""Scripts of recordings: the shipped ones are read, and a wrong one is told by its file."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicecheck.rehearsal.record import main
from voicecheck.rehearsal.script import read_script
from voicecheck.shipped import recordings_dir

SCRIPTS = sorted((recordings_dir() / "scripts").glob("*.yaml"))


def test_every_recording_has_its_script() -> None:
    assert SCRIPTS
    assert {path.stem for path in SCRIPTS} == {p.stem for p in recordings_dir().glob("*.wav")}


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_everybody_in_a_shipped_script_has_a_voice(path: Path) -> None:
    script = read_script(path)
    assert {line.who for line in script.lines} <= set(script.voices)


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("who: pilot", "who: nobody", "no voice for nobody; give each one under 'voices'"),
        ("seed:", "sed:", "unknown key 'sed'"),
        ("  outcomes:\n", "  outcomes:\n    horn.of-a-ship: void\n", "items: horn.of-a-ship"),
    ],
)
def test_a_wrong_script_is_told_by_its_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], before: str, after: str, told: str
) -> None:
    text = next(t for t in (p.read_text("utf-8") for p in SCRIPTS) if before in t)
    path = tmp_path / "scripts" / "wrong.yaml"
    path.parent.mkdir()
    path.write_text(text.replace(before, after, 1), "utf-8")
    assert main([str(path)]) == 2
    err = capsys.readouterr().err
    assert err.startswith(f"voicecheck: {path}")
    assert told in err
    assert not list(tmp_path.glob("*.wav"))
