"""Keep the speech small, for a next training without synthesis; or split any file into pieces.

python -m voicecheck.training.keep speech SPEECH PATTERN TARGET FILES QUALITY
python -m voicecheck.training.keep split FILE PIECE_BYTES
"""

from __future__ import annotations

import multiprocessing
import sys
from pathlib import Path

from voicecheck.training import shards


def _one(given: tuple[list[Path], Path, float]) -> int:
    stems, target, quality = given
    return shards.keep_small(stems, target, quality)


def speech(folder: str, pattern: str, target: str, files: str, quality: str) -> None:
    """All shards of a pattern, in `files` files TARGET_0.ogg and so on, with their entries."""
    stems = [path.with_suffix("") for path in sorted(Path(folder).glob(pattern))]
    count = min(int(files), len(stems))
    parts = [(stems[at::count], Path(f"{target}_{at}"), float(quality)) for at in range(count)]
    with multiprocessing.get_context("spawn").Pool(count) as pool:
        sizes = pool.map(_one, parts)
    print([round(size / 1e6, 1) for size in sizes], "MB")


def split(file: str, piece: str) -> None:
    """FILE.0, FILE.1 and so on; joined again they are the file."""
    whole, size = Path(file).read_bytes(), int(piece)
    for number, at in enumerate(range(0, len(whole), size)):
        Path(f"{file}.{number}").write_bytes(whole[at : at + size])


if __name__ == "__main__":
    if sys.argv[1] == "speech":
        speech(*sys.argv[2:])
    else:
        split(*sys.argv[2:])
