"""A wheel, used as it is installed: away from the repository, which nothing may open."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import soundfile
from wheel_of import ROOT, build

WATCH = """\
import os, sys

def refuse(event, arguments):
    if event in ("open", "os.listdir", "os.scandir") and isinstance(arguments[0], str):
        path = os.path.realpath(arguments[0])
        root = os.environ["NOT_BELOW"] + os.sep
        if path.startswith(root) and not path.startswith(root + ".venv"):
            raise RuntimeError("opened a file of the repository: " + path)

sys.addaudithook(refuse)
"""


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel's content in a folder of its own, and a watch that starts with the interpreter."""
    folder = tmp_path_factory.mktemp("site")
    with zipfile.ZipFile(build("build_wheel", tmp_path_factory.mktemp("dist"))) as wheel:
        wheel.extractall(folder)
    (folder / "sitecustomize.py").write_text(WATCH, "utf-8")
    return folder


def outside(
    installed: Path, home: Path, *words: str, program: tuple[str, ...] = ("-m", "voicecheck")
) -> subprocess.CompletedProcess[str]:
    environment = {
        "PATH": os.environ["PATH"],
        "PYTHONPATH": str(installed),
        "NOT_BELOW": str(ROOT),
        "HOME": str(home),
    }
    return subprocess.run(
        [sys.executable, *program, *words], cwd="/", env=environment, capture_output=True,
        text=True, check=False, timeout=240,
    )  # fmt: skip


def test_the_watch_sees_the_repository(installed: Path, tmp_path: Path) -> None:
    read = f"open({str(ROOT / 'LICENSE')!r})"
    made = outside(installed, tmp_path, read, program=("-c",))
    assert "opened a file of the repository" in made.stderr


def test_it_is_the_wheel_that_runs(installed: Path, tmp_path: Path) -> None:
    made = outside(
        installed, tmp_path, "import voicecheck; print(voicecheck.__file__)", program=("-c",)
    )
    assert made.stdout.startswith(str(installed)), made.stderr


def test_it_writes_and_validates(installed: Path, tmp_path: Path) -> None:
    made = outside(installed, tmp_path, "new", "type", "Plover 12", "--into", str(tmp_path / "own"))
    assert made.returncode == 0, made.stderr
    made = outside(installed, tmp_path, "validate", "skerry-j2", str(tmp_path / "own"))
    assert (made.returncode, made.stdout.count("positions")) == (0, 4), made.stdout + made.stderr


def test_it_runs_a_session_from_a_recording(installed: Path, tmp_path: Path) -> None:
    """The beginning of the demo's recording, on one listener."""
    shipped = installed / "voicecheck" / "shipped" / "recordings" / "three-findings.wav"
    samples, rate = soundfile.read(shipped, frames=16000 * 16, dtype="int16")
    wav = tmp_path / "crew.wav"
    soundfile.write(wav, samples, rate)
    log = tmp_path / "log"
    made = outside(
        installed, tmp_path, "run", "skerry-j2", "--airframe", "ZZ-HJC", "--from", str(wav),
        "--recorded-at", "2026-01-05", "--log", str(log), "--second-listener", "off", "--mute",
    )  # fmt: skip
    assert made.returncode in (1, 3), made.stdout + made.stderr
    (folder,) = (path.parent for path in log.glob("*/journal.jsonl"))
    assert (folder / "report.html").stat().st_size > 10_000
    made = outside(
        installed, tmp_path, "log", "report", "latest", "--format", "pdf", "--log", str(log)
    )
    assert made.returncode == 0, made.stderr
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF")
