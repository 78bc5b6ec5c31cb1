"""Synthetic speech in files that hold many utterances: sound as it is used, or small for keeping.

A shard is NAME.npy (16 kHz, 16 bit, all utterances one after another) and NAME.json, whose entries
have the samples, the label and the kind of each. Kept for the next training it is NAME.ogg (Opus)
instead of NAME.npy: a tenth, and no synthesis.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

RATE: Final = 16_000
_FRAME: Final = RATE // 100
_QUIETEST: Final = 10**4.0
"""Power ratio under the loudest frame that counts as silence at the ends."""
_LEAST_POWER: Final = 1e-9


def trimmed(sound: NDArray[np.float32]) -> NDArray[np.int16] | None:
    """From just before to just after what is heard, at full scale; None: nothing there."""
    count = len(sound) // _FRAME
    if count < 8:
        return None
    frames = sound[: count * _FRAME].reshape(count, _FRAME).astype(np.float64)
    power = np.mean(frames**2, axis=1)
    if power.max() < _LEAST_POWER:
        return None
    loud = np.flatnonzero(power > power.max() / _QUIETEST)
    sound = sound[max(0, loud[0] - 2) * _FRAME : (loud[-1] + 3) * _FRAME]
    return np.asarray(sound / float(np.abs(sound).max()) * 30_000, np.int16)


def louder(sound: NDArray[np.int16], start: int, samples: int, depth: float) -> tuple[int, int]:
    """First and number of those of `samples` from `start` within `depth` dB of the loudest."""
    count = samples // _FRAME
    if count < 8:
        return 0, samples
    frames = sound[start : start + count * _FRAME].reshape(count, _FRAME).astype(np.float32)
    power = np.einsum("tf,tf->t", frames, frames)
    loud = np.flatnonzero(power > power.max() / 10 ** (depth / 10))
    first, last = int(loud[0]) * _FRAME, int(loud[-1] + 1) * _FRAME
    return first, last - first


def write(
    stem: Path, sounds: Sequence[NDArray[np.int16]], entries: Sequence[dict[str, Any]]
) -> None:
    """Entries first, so that whoever finds the sound finds them too."""
    listed = [{**e, "samples": len(s)} for e, s in zip(entries, sounds, strict=True)]
    stem.with_suffix(".json").write_text(json.dumps(listed, ensure_ascii=False), encoding="utf-8")
    fresh = stem.with_suffix(".part")
    with fresh.open("wb") as file:
        np.save(file, np.concatenate(sounds))
    fresh.rename(stem.with_suffix(".npy"))


def entries_of(stem: Path) -> list[dict[str, Any]]:
    """What a shard's sound is."""
    found: list[dict[str, Any]] = json.loads(stem.with_suffix(".json").read_text(encoding="utf-8"))
    return found


def read(stem: Path) -> NDArray[np.int16]:
    """All sound of a shard, kept either way."""
    if stem.with_suffix(".npy").exists():
        return np.asarray(np.load(stem.with_suffix(".npy")), np.int16)
    import soundfile

    sound, _ = soundfile.read(stem.with_suffix(".ogg"), dtype="int16")
    total = sum(entry["samples"] for entry in entries_of(stem))
    return np.asarray(sound[:total], np.int16)


def keep_small(stems: Sequence[Path], target: Path, quality: float) -> int:
    """Many shards as one small one; bytes. quality: 0 best to 1 smallest (soundfile's level)."""
    import soundfile

    sound = np.concatenate([read(stem) for stem in stems])
    entries = [entry for stem in stems for entry in entries_of(stem)]
    target.with_suffix(".json").write_text(
        json.dumps(entries, ensure_ascii=False), encoding="utf-8"
    )
    soundfile.write(
        target.with_suffix(".ogg"),
        sound,
        RATE,
        format="OGG",
        subtype="OPUS",
        compression_level=quality,
    )
    return target.with_suffix(".ogg").stat().st_size
