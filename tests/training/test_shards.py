"""Speech in files: trimmed, put away and found again."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from voicecheck.training import keep, shards


def _tone(seconds: float, hertz: float = 300.0) -> np.ndarray:
    time = np.arange(int(seconds * shards.RATE)) / shards.RATE
    return np.asarray(0.3 * np.sin(2 * np.pi * hertz * time), np.float32)


def test_silence_at_the_ends_is_cut_and_the_level_is_the_same() -> None:
    quiet = np.zeros(8000, np.float32)
    found = shards.trimmed(np.concatenate([quiet, _tone(0.5), quiet]))
    assert found is not None
    assert 0.5 <= len(found) / shards.RATE <= 0.56
    assert int(np.abs(found).max()) == 30_000


def test_soft_ends_lie_outside_of_what_is_louder() -> None:
    soft = _tone(0.2) * 10 ** (-32 / 20)
    sound = np.concatenate([soft, _tone(0.5), soft]) * 30_000
    whole = np.concatenate([np.full(1600, 9_000), sound]).astype(np.int16)
    first, many = shards.louder(whole, 1600, len(sound), 26.0)
    assert first / shards.RATE == pytest.approx(0.2, abs=0.011)
    assert many / shards.RATE == pytest.approx(0.5, abs=0.021)
    assert shards.louder(whole, 1600, len(sound), 38.0) == (0, len(sound))


@pytest.mark.parametrize("sound", [np.zeros(20_000, np.float32), _tone(0.05)])
def test_nothing_is_no_utterance(sound: np.ndarray) -> None:
    assert shards.trimmed(sound) is None


def test_a_shard_is_read_as_it_was_written(tmp_path: Path) -> None:
    sounds = [np.arange(300, dtype=np.int16), np.arange(500, dtype=np.int16)]
    shards.write(tmp_path / "a_0_0", sounds, [{"label": [1, 2]}, {"label": [3]}])
    assert (shards.read(tmp_path / "a_0_0") == np.concatenate(sounds)).all()
    entries = shards.entries_of(tmp_path / "a_0_0")
    assert [(e["label"], e["samples"]) for e in entries] == [([1, 2], 300), ([3], 500)]


def test_what_is_kept_small_is_the_same_speech(tmp_path: Path) -> None:
    tones = [_tone(1.0, 300), _tone(0.7, 900)]
    stems = [tmp_path / f"a_0_{n}" for n in range(2)]
    for stem, tone in zip(stems, tones, strict=True):
        shards.write(stem, [np.asarray(tone * 32767, np.int16)], [{"label": [1]}])
    size = shards.keep_small(stems, tmp_path / "kept", 0.6)
    assert size < sum(stem.with_suffix(".npy").stat().st_size for stem in stems) / 2
    found = shards.read(tmp_path / "kept").astype(float)
    whole = np.concatenate([t * 32767 for t in tones])
    assert len(found) == len(whole)
    assert np.corrcoef(found[2000:14000], whole[2000:14000])[0, 1] > 0.95


def test_pieces_of_a_file_joined_are_the_file(tmp_path: Path) -> None:
    file = tmp_path / "weights"
    file.write_bytes(bytes(range(250)) * 5)
    keep.split(str(file), "400")
    pieces = sorted(tmp_path.glob("weights.*"))
    assert [len(piece.read_bytes()) for piece in pieces] == [400, 400, 400, 50]
    assert b"".join(piece.read_bytes() for piece in pieces) == file.read_bytes()


def test_entries_are_json_a_person_can_read(tmp_path: Path) -> None:
    shards.write(tmp_path / "b", [np.ones(10, np.int16)], [{"label": [], "voice": "ä"}])
    assert json.loads((tmp_path / "b.json").read_text("utf-8"))[0]["voice"] == "ä"
