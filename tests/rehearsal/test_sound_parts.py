"""Noise without end, microphones, and synthetic speech that is made once."""

from __future__ import annotations

import random
from collections.abc import Mapping
from pathlib import Path
from typing import cast

import numpy as np
import pytest
from fleet import loaded

from voicecheck.audio.source import BLOCK
from voicecheck.checklist.loader import Loaded
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.manners import Manners
from voicecheck.rehearsal.scripted_ear import ScriptedEar
from voicecheck.rehearsal.sound import SoundLoop
from voicecheck.session.lanes import APART_DB
from voicecheck.speech.ear import Ear
from voicecheck.speech.opening import OpenedEar
from voicecheck.world.acts import Utterance
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.microphones import LEAK_DB, in_pink_noise
from voicecheck.world.noise import FADE, PIECE, Unending
from voicecheck.world.sound import Fittings
from voicecheck.world.synthesis import LEVEL_DBFS, Talker
from voicecheck.world.voices import VOICES, Voices, sound_of


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


def decibels(sound: np.ndarray) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(sound.astype(np.float64) ** 2)) / 32768))


def test_a_voice_is_weaker_at_the_other_microphone() -> None:
    """Far more than the 6 dB by which a session tells who spoke (session.lanes)."""
    assert LEAK_DB > 2 * APART_DB
    chance = np.random.default_rng(1)
    voice = chance.normal(0, 3000, BLOCK).astype(np.int16)
    for who in (0, 1):
        block = in_pink_noise(2, None, seed=9).take(voice, who)
        assert block.second is not None
        near, far = (block.samples, block.second)[:: 1 - 2 * who]
        assert decibels(near) == pytest.approx(decibels(voice), abs=0.2)
        assert decibels(far) == pytest.approx(decibels(voice) - LEAK_DB, abs=0.5)
    between = in_pink_noise(2, None, seed=9).take(voice, None)
    assert between.second is not None
    assert decibels(between.samples) == pytest.approx(decibels(between.second), abs=0.5)
    alone = in_pink_noise(1, None, seed=9).take(voice, 1)
    assert alone.second is None
    assert decibels(alone.samples) == pytest.approx(decibels(voice), abs=0.2)


def test_each_microphone_has_a_noise_of_its_own() -> None:
    nobody = np.zeros(BLOCK, np.int16)
    microphones = in_pink_noise(2, 10.0, seed=9)
    blocks = [microphones.take(nobody, None) for _ in range(200)]
    one = np.concatenate([block.samples for block in blocks])
    other = np.concatenate([block.second for block in blocks if block.second is not None])
    assert decibels(one) == pytest.approx(decibels(other), abs=0.5)
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.2
    alone = in_pink_noise(1, 10.0, seed=9)
    assert np.array_equal(one[:BLOCK], alone.take(nobody, 0).samples)


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


class Told(Crew):
    """Says one thing, and writes down what it hears and says."""

    def __init__(self, plane: Loaded) -> None:
        chance = random.Random(1)
        super().__init__(plane.checklist, Aircraft(plane.checklist, (), 1), Manners(), chance)
        self.course: list[str] = []

    def next(self, now: float) -> Utterance:
        return Utterance(0, (), "hello", pause=1.0)

    def hears(self, prompt: str, values: Mapping[str, str], at: float) -> None:
        self.course.append(prompt)

    def spoke(self, utterance: Utterance, start: float, end: float) -> None:
        self.course.append(utterance.words)
        self.memory.over = True

    def after_utterance(self) -> None:
        pass


def test_what_is_said_before_the_crew_speaks_is_heard_before_it_speaks(tmp_path: Path) -> None:
    """Heard with the answer to what it says, it would be taken for that answer."""
    plane = loaded("ZZ-HAC")
    crew = Told(plane)

    def tick(now: float) -> None:
        if now > 0.5 and "question" not in crew.course:
            loop.heard = [("question", {})]

    ear = OpenedEar(cast(Ear, ScriptedEar(plane)), (), (), lambda _words: ())
    microphones = in_pink_noise(1, None, seed=0)
    loop = SoundLoop(plane, crew, [ear], Voices(VOICES, tmp_path), microphones, Fittings(tick=tick))
    loop.play()
    assert crew.course.index("question") < crew.course.index("hello")
