from __future__ import annotations

import tarfile
import zipfile
from pathlib import Path

from wheel_of import ROOT, build

FOLDERS = ("grammars", "checklists", "recordings")


def data_files() -> set[str]:
    return {
        str(path.relative_to(ROOT))
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*")
        if path.is_file()
    }


def test_the_wheel_carries_every_data_file(tmp_path: Path) -> None:
    with zipfile.ZipFile(build("build_wheel", tmp_path)) as wheel:
        names = set(wheel.namelist())
        points = next(n for n in names if n.endswith("entry_points.txt"))
        assert "voicecheck = voicecheck.cli:main" in wheel.read(points).decode()
    assert {f"voicecheck/shipped/{name}" for name in data_files()} <= names
    assert "voicecheck/py.typed" in names
    assert not {name for name in names if name.startswith((*FOLDERS, "tests"))}


def test_the_wheel_has_no_training_room(tmp_path: Path) -> None:
    assert (ROOT / "voicecheck" / "training" / "__init__.py").exists()
    with zipfile.ZipFile(build("build_wheel", tmp_path)) as wheel:
        assert not [name for name in wheel.namelist() if "voicecheck/training" in name]


def test_an_editable_wheel_carries_no_second_copy(tmp_path: Path) -> None:
    with zipfile.ZipFile(build("build_editable", tmp_path)) as wheel:
        names = [name for name in wheel.namelist() if ".dist-info/" not in name]
        assert names == ["_voicecheck.pth"]
        assert wheel.read(names[0]).decode().strip() == str(ROOT)


def test_the_source_distribution_carries_all_that_a_build_and_its_tests_need(
    tmp_path: Path,
) -> None:
    with tarfile.open(build("build_sdist", tmp_path)) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames() if "/" in name}
    needed = {"Makefile", "pyproject.toml", "requirements.lock", "LICENSE", "README.md"}
    needed |= {".ci/run", ".ci/create-venv", ".ci/system-packages", "tests/test_architecture.py"}
    assert needed | data_files() <= names
