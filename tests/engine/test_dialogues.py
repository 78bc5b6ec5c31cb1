"""The written dialogues in engine/dialogues, word for word."""

from __future__ import annotations

from pathlib import Path

import pytest
from engine.dialogue import played

FOLDER = Path(__file__).parent / "dialogues"
NAMES = sorted(path.stem for path in FOLDER.glob("*.txt"))


@pytest.mark.parametrize("name", NAMES)
def test_a_dialogue_goes_as_written(name: str) -> None:
    written = (FOLDER / f"{name}.txt").read_text("utf-8")
    assert played(written) == written
