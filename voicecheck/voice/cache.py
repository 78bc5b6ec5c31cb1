"""Rendered prompts on disk, each checked when it is read: a damaged one is made again."""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

_DIGEST_BYTES: Final = 32


LIMIT: Final = 256 * 2**20
"""Bytes of rendered prompts that stay on disk: about two hours of speech."""


class PromptCache:
    """Files named by what they say and how: SHA-256 of the samples, then the samples.

    Samples are little-endian int16, 16 kHz, mono. A folder that cannot be written only
    costs time: prompts are then rendered again next time.
    """

    def __init__(self, folder: Path, limit: int = LIMIT) -> None:
        self._folder = folder
        self._prune(limit)

    def read(self, key: str) -> NDArray[np.int16] | None:
        """The prompt, or None if it is not there or not intact."""
        try:
            content = self._path(key).read_bytes()
        except OSError:
            return None
        digest, pcm = content[:_DIGEST_BYTES], content[_DIGEST_BYTES:]
        if hashlib.sha256(pcm).digest() != digest or not pcm or len(pcm) % 2:
            return None
        return np.frombuffer(pcm, dtype="<i2").astype(np.int16)

    def write(self, key: str, samples: NDArray[np.int16]) -> None:
        """Keep a prompt; the file appears whole or not at all."""
        pcm = samples.astype("<i2").tobytes()
        unfinished: str | None = None
        with contextlib.suppress(OSError):
            try:
                self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
                descriptor, unfinished = tempfile.mkstemp(dir=self._folder, prefix=".new-")
                with os.fdopen(descriptor, "wb") as file:
                    file.write(hashlib.sha256(pcm).digest() + pcm)
                Path(unfinished).replace(self._path(key))
            finally:
                if unfinished is not None:
                    Path(unfinished).unlink(missing_ok=True)

    def _prune(self, limit: int) -> None:
        """Delete the oldest prompts beyond `limit` bytes."""
        with contextlib.suppress(OSError):
            found = [
                (p.stat().st_mtime, p.stat().st_size, p) for p in self._folder.glob("*.prompt")
            ]
            total = sum(size for _, size, _ in found)
            for _, size, path in sorted(found):
                if total <= limit:
                    return
                path.unlink(missing_ok=True)
                total -= size

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.prompt"


def prompt_key(text: str, voice: str, rate: int, volume: float, engine: str) -> str:
    """Hex digest of all that decides how a prompt sounds."""
    parts = (text, voice, str(rate), f"{volume:.3f}", engine)
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()
