from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import voicecheck.shipped
from voicecheck.errors import VoicecheckError
from voicecheck.shipped import checklists_dir, grammars_dir, recordings_dir

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = ("grammars", "checklists", "recordings")


def ask_copy(where: Path) -> subprocess.CompletedProcess[str]:
    """Ask the package copy in ``where``, in a Python of its own, for its three folders."""
    program = (
        f"import sys; sys.path.insert(0, {str(where)!r})\n"
        "from voicecheck import shipped\n"
        "print(shipped.grammars_dir(), shipped.checklists_dir(), shipped.recordings_dir())\n"
    )
    return subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """A folder with the package alone, as site-packages would hold it without its data."""
    package = tmp_path / "voicecheck"
    (package / "shipped").mkdir(parents=True)
    for name in ("__init__.py", "errors.py"):
        shutil.copy(ROOT / "voicecheck" / name, package)
    shutil.copy(Path(voicecheck.shipped.__file__), package / "shipped")
    return tmp_path


def test_a_source_tree_uses_its_top_level_folders() -> None:
    assert (grammars_dir(), checklists_dir(), recordings_dir()) == tuple(
        ROOT / name for name in FOLDERS
    )


def test_an_installed_copy_uses_the_folders_inside_it(copied: Path) -> None:
    inside = [copied / "voicecheck" / "shipped" / name for name in FOLDERS]
    for folder in inside:
        folder.mkdir()
    assert ask_copy(copied).stdout.split() == [str(folder) for folder in inside]


def test_a_stray_folder_beside_an_installed_copy_is_not_ours(copied: Path) -> None:
    (copied / "grammars").mkdir()
    result = ask_copy(copied)
    assert result.returncode != 0
    assert VoicecheckError.__name__ in result.stderr
    assert "own grammars folder is missing" in result.stderr
    assert "install voicecheck again" in result.stderr
