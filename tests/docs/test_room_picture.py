"""The picture in DEVELOPERS.md is what the import contracts say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from room_picture import mermaid
from voicecheck.errors import VoicecheckError

ROOT = Path(__file__).resolve().parents[2]


def test_the_picture_is_current() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    pictures = re.findall(r"```mermaid\n(flowchart TD\n.*?)```", text, re.DOTALL)
    assert pictures == [mermaid(ROOT / "pyproject.toml")]


def test_every_room_is_in_it() -> None:
    rooms = {
        path.parent.name
        for path in (ROOT / "voicecheck").glob("*/__init__.py")
        if path.parent.name != "shipped"
    }
    drawn = set(re.findall(r"\w+", mermaid(ROOT / "pyproject.toml")))
    assert rooms <= drawn


def test_it_follows_the_contracts(tmp_path: Path) -> None:
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    changed = text.replace(
        '"voicecheck.** -> voicecheck.engine.effects"', '"voicecheck.** -> voicecheck.x"'
    )
    (tmp_path / "pyproject.toml").write_text(changed, "utf-8")
    assert "display --> x\n" in mermaid(tmp_path / "pyproject.toml")


@pytest.mark.parametrize("text", [None, "[tool", "[project]\n"])
def test_a_file_without_contracts_is_told(tmp_path: Path, text: str | None) -> None:
    path = tmp_path / "pyproject.toml"
    if text is not None:
        path.write_text(text, "utf-8")
    with pytest.raises(VoicecheckError, match=r"pyproject\.toml: no import contracts"):
        mermaid(path)
