"""validate also says what loads but will not serve: errors end with status 2, warnings do not."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from voicecheck.cli import app
from voicecheck.shipped import checklists_dir


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    """A copy of the shipped checklists."""
    return Path(shutil.copytree(checklists_dir(), tmp_path / "checklists"))


def edit(path: Path, old: str, new: str) -> int:
    """Replace one text of a file; returns the line in which it stands."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return 1 + text[: text.index(old)].count("\n")


def validate(*paths: Path) -> Result:
    return CliRunner().invoke(app, ["validate", *map(str, paths)])


def test_nothing_is_advised_about_the_fleet(fleet: Path) -> None:
    result = validate(fleet)
    assert result.exit_code == 0, result.output
    assert "warning:" not in result.output
    assert "error:" not in result.output
    assert result.output.count(" items, ") == 7


def test_an_error_is_told_for_each_airframe_that_has_it(fleet: Path) -> None:
    path = fleet / "tarn-40.yaml"
    line = edit(path, "within: {from: 2, to: 6}", "within: {from: 2, to: 2.5}")
    result = validate(path)
    assert result.exit_code == 2
    told = [text for text in result.output.splitlines() if "error:" in text]
    assert len(told) == 1, "it is fitted to one of the three"
    assert told[0].startswith(f"{path}:{line - 5}:")
    assert "ZZ-HAC: error: anti-skid.out: has a window of 0.5 s" in told[0]
    assert "; widen 'within'" in told[0]


def test_an_error_of_an_airframe_is_told_in_its_own_file(fleet: Path) -> None:
    path = fleet / "airframes" / "zz-hjd.yaml"
    line = edit(path, "within: {from: 4, to: 8}", "within: {from: 4, to: 4.2}")
    result = validate(path)
    assert result.exit_code == 2
    assert f"{path}:{line - 4}:" in result.output
    assert "error: anti-skid.out" in result.output


def test_a_warning_alone_is_no_failure(fleet: Path) -> None:
    path = fleet / "skerry-j2.yaml"
    edit(path, "{say: caption missing,", "{say: panels complete,")
    result = validate(path)
    assert result.exit_code == 0, result.output
    told = [text for text in result.output.splitlines() if "warning:" in text]
    assert len(told) == 4
    assert all("'panel complete' (captions.panel good) sounds like" in text for text in told)


def test_all_files_are_gone_through(fleet: Path) -> None:
    """An error in one type does not hide what is wrong with the other."""
    edit(fleet / "skerry-j2.yaml", "within: {from: 1.5, to: 5.5}", "within: {from: 1.5, to: 2}")
    edit(fleet / "tarn-40.yaml", "within: {from: 2, to: 6}", "within: {from: 2, to: 2.5}")
    result = validate(fleet)
    assert result.exit_code == 2
    assert {text.split(":")[0] for text in result.output.splitlines() if "error:" in text} == {
        str(fleet / "skerry-j2.yaml"),
        str(fleet / "tarn-40.yaml"),
    }
