"""What README.md lets a reader type is true."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from command import call

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
OWN = README[README.index("## Your own checklist") : README.index("## Rehearsal")]


def test_the_worked_example(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```(\w*)\n(.*?)```", OWN, re.DOTALL)
    told = ""
    for line in blocks[0][1].splitlines():
        status, told, _ = call(*shlex.split(line)[1:], capsys=capsys)
        assert status == 0, line
    assert "ZZ-PLV: 2 positions, 4 items, 0 not fitted" in told
    (kind, added), file = blocks[1], tmp_path / "my-checklists" / "plover-12.yaml"
    assert kind == "yaml"
    head, rest = file.read_text("utf-8").split("# More positions", 1)
    file.write_text(head + added + "# More positions" + rest, "utf-8")
    status, told, _ = call("validate", "my-checklists", capsys=capsys)
    plain = told.count("\n") - told.count(": note: ")
    assert (status, "3 positions, 7 items" in told, plain) == (0, True, 1), told


def test_every_picture_and_page_is_there() -> None:
    root = Path(__file__).resolve().parents[2]
    for target in re.findall(r"\]\((?!#)([\w./-]+)\)", README):
        assert (root / target).is_file(), target
        assert (root / target).stat().st_size < 150_000 or target.endswith(".md")
