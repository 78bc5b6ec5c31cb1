"""Noise without end, and synthetic speech that is made once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from voicecheck.measure.synthesis import LEVEL_DBFS, Talker
from voicecheck.rehearsal.unending import FADE, PIECE, Unending
from voicecheck.rehearsal.voices import sound_of


def taken(seed: int, pieces: list[int]) -> np.ndarray:
    noise = Unending("pink", 10.0, seed)
    return np.concatenate([noise.take(count) for count in pieces])


def test_noise_is_the_same_for_a_seed_however_it_is_taken() -> None:
    whole = taken(3, [2 * PIECE + 320])
    assert np.array_equal(whole, taken(3, [PIECE - 7, 14, PIECE, 313]))
    assert not np.array_equal(whole, taken(4, [2 * PIECE + 320]))
    assert not np.array_equal(whole[:PIECE], whole[PIECE : 2 * PIECE])


def test_noise_keeps_its_level_where_two_pieces_meet() -> None:
    """10 dB below speech: the level of speech is LEVEL_DBFS by definition of the mixing."""
    noise = taken(5, [3 * PIECE])
    wanted = 32768 * 10 ** ((LEVEL_DBFS - 10.0) / 20)
    assert np.sqrt(np.mean(noise**2)) == pytest.approx(wanted, rel=0.01)
    for meet in (PIECE, 2 * PIECE):
        step = np.abs(np.diff(noise[meet - 2 : meet + 2]))
        assert step.max() < 6 * np.std(np.diff(noise[:PIECE])), "a click"
        around = noise[meet - FADE : meet + 2 * FADE]
        assert 0.3 * wanted < np.std(around) < 3 * wanted


def test_speech_is_made_once_and_made_again_when_its_file_is_broken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []
    say = Talker.say

    def counted(self: Talker, text: str) -> np.ndarray:
        made.append(text)
        return say(self, text)

    monkeypatch.setattr(Talker, "say", counted)
    talker, other = Talker("espeak-ng", "en-us"), Talker("espeak-ng", "en-us", 1.2)
    first = sound_of(talker, "three green", tmp_path)
    for _ in range(2):
        sound_of.cache_clear()  # as in another process
        assert np.array_equal(sound_of(talker, "three green", tmp_path), first)
    assert made == ["three green"]
    sound_of(other, "three green", tmp_path)
    sound_of(talker, "two green", tmp_path)
    assert len(made) == 3
    for content in (b"", b"\x93NUMPY", first.tobytes()):
        for path in (tmp_path / "talkers").iterdir():
            path.write_bytes(content)
        sound_of.cache_clear()
        assert np.array_equal(sound_of(talker, "three green", tmp_path), first)
    assert len(made) == 6
    sound_of.cache_clear()
