"""Real sound in real time, through a sound card made of software."""

from __future__ import annotations

import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from soundcard import REAL_TIME, SoundCard, recorded, wait_until

from voicecheck.audio import capture as capture_room
from voicecheck.audio import microphone as microphone_room
from voicecheck.audio.devices import find_microphone
from voicecheck.audio.level import level_of
from voicecheck.audio.microphone import Microphone
from voicecheck.audio.player import Player
from voicecheck.audio.portaudio import library, open_stream
from voicecheck.audio.prompts import PlaybackState
from voicecheck.audio.source import (
    RATE,
    Block,
    Item,
    Samples,
    SoundDropped,
    SourceLost,
    SourceRestored,
)
from voicecheck.voice.speaker import Speaker

pytestmark = REAL_TIME

REPOSITORY = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def card() -> Iterator[SoundCard]:
    with SoundCard() as card:
        yield card


@pytest.fixture
def player(card: SoundCard) -> Iterator[Player]:
    player = Player()
    yield player
    player.close()


@pytest.fixture(scope="module")
def prompt() -> Iterator[Samples]:
    speaker = Speaker()
    yield speaker.render("Landing gear. Call the lights.")
    speaker.close()


class Ear:
    """Listens to a microphone in a thread of its own, as a session does."""

    def __init__(self, microphone: Microphone) -> None:
        self.microphone = microphone
        self.parts: list[Samples] = []
        self.news: queue.Queue[Item] = queue.Queue()
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()
        wait_until(lambda: len(self.parts) > 3, "the first blocks")

    def _listen(self) -> None:
        for item in self.microphone.blocks():
            if isinstance(item, Block):
                self.parts.append(item.samples)
            else:
                self.news.put(item)

    @property
    def samples(self) -> Samples:
        return np.concatenate(self.parts)

    def close(self) -> None:
        self.microphone.stop()
        self._thread.join(5)
        assert not self._thread.is_alive(), "blocks() did not end"


@pytest.fixture
def ear(card: SoundCard) -> Iterator[Ear]:
    ear = Ear(Microphone())
    yield ear
    ear.close()


def noise(seconds: float) -> Samples:
    """RMS 4000; mostly below 2 kHz, where PulseAudio's own resampling leaves it alone."""
    white = np.random.default_rng(7).normal(0, 4000 * 8**0.5, round(seconds * RATE))
    return np.convolve(white, np.ones(8) / 8, "same").astype(np.int16)


def likeness(heard: NDArray[np.int16], sent: NDArray[np.int16]) -> float:
    """Correlation at the best offset, 0..1."""
    size = 1 << (len(heard) + len(sent)).bit_length()
    a, b = (np.fft.rfft(part.astype(float), size) for part in (heard, sent))
    at = int(np.argmax(np.fft.irfft(a * np.conj(b), size)[: max(1, len(heard) - len(sent) + 1)]))
    return float(np.corrcoef(heard[at : at + len(sent)], sent[: len(heard) - at])[0, 1])


def sounding(heard: NDArray[np.int16]) -> float:
    """Seconds from the first to the last sound."""
    loud = np.flatnonzero(np.abs(heard.astype(int)) > 20)
    assert len(loud), "nothing was heard"
    return float(loud[-1] - loud[0] + 1) / RATE


def read(path: Path) -> Samples:
    samples: Samples = soundfile.read(path, dtype="int16")[0]
    return samples


def test_the_microphone_hears_every_sample(card: SoundCard, ear: Ear) -> None:
    said = noise(1.0)
    card.speak(said)
    wait_until(lambda: likeness(ear.samples, said) > 0.999, "the words arrive", 3)
    assert ear.microphone.overflows == 0
    assert ear.news.empty()


@pytest.mark.parametrize("only", [44_100, 48_000])
def test_a_device_that_knows_one_rate_alone_is_resampled(
    card: SoundCard, monkeypatch: pytest.MonkeyPatch, only: int
) -> None:
    def stubborn(kind: str, busy: object, **settings: object) -> object:
        if settings["samplerate"] != only:
            raise library().PortAudioError("Invalid sample rate")
        return open_stream(kind, busy, **settings)  # type: ignore[arg-type]

    found = find_microphone()
    monkeypatch.setattr(microphone_room, "find_microphone", lambda _: replace(found, rate=only))
    monkeypatch.setattr(capture_room, "open_stream", stubborn)
    ear = Ear(Microphone())
    try:
        assert ear.microphone._capture.rate == only
        said = noise(1.0)
        began, count = time.monotonic(), len(ear.samples)
        card.speak(said)
        wait_until(lambda: likeness(ear.samples, said) > 0.99, "the words arrive", 3)
        passed = time.monotonic() - began
        assert (len(ear.samples) - count) / RATE == pytest.approx(passed, abs=0.2)
    finally:
        ear.close()


def test_a_slow_reader_gets_silence_for_what_was_dropped(
    card: SoundCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(capture_room, "_HELD_SECONDS", 0.2)
    with Microphone() as microphone:
        blocks = microphone.blocks()
        next(blocks)
        began = time.monotonic()
        time.sleep(1.0)
        count = dropped = 0
        while time.monotonic() < began + 1.5:
            item = next(blocks)
            if isinstance(item, SoundDropped):
                dropped += item.times
            else:
                count += len(item.samples)  # type: ignore[union-attr]
        assert dropped == microphone.overflows >= 1
        assert count / RATE == pytest.approx(1.5, abs=0.15)


def test_the_microphones_clock_follows_its_sound(card: SoundCard, ear: Ear) -> None:
    """Also across a loss: prompts and callouts must stay on one clock."""
    for _ in range(20):
        time.sleep(0.05)
        behind = ear.microphone.now() - len(ear.samples) / RATE
        assert -0.03 < behind < 0.5


def test_a_prompt_sounds_as_rendered(
    card: SoundCard, player: Player, prompt: Samples, tmp_path: Path
) -> None:
    with recorded(card, tmp_path / "heard.wav"):
        playback = player.play(prompt)
        assert player.audible
        assert playback.wait(5)
        wait_until(lambda: not player.audible, "the prompt ends", 1)
    heard = read(tmp_path / "heard.wav")
    assert likeness(heard, prompt) > 0.95
    assert playback.state is PlaybackState.PLAYED
    assert not playback.unheard
    [(start, end)] = player.heard()
    assert end - start == pytest.approx(len(prompt) / RATE, abs=0.02)
    assert sounding(heard) == pytest.approx(len(prompt) / RATE, abs=0.02)


def test_a_warning_interrupts_within_100_ms(
    card: SoundCard, player: Player, tmp_path: Path
) -> None:
    routine, warning = np.full(RATE * 3, 8000, np.int16), np.full(RATE // 2, -8000, np.int16)
    with recorded(card, tmp_path / "heard.wav"):
        first = player.play(routine)
        wait_until(lambda: first.start is not None, "the routine prompt sounds")
        time.sleep(0.5)
        decided = time.monotonic()
        second = player.play(warning, urgent=True)
        player.play(np.full(RATE // 4, 4000, np.int16))
        assert second.wait(3)
        wait_until(lambda: not player.audible, "all prompts end", 3)
    heard = read(tmp_path / "heard.wav")
    assert first.state is PlaybackState.CUT
    assert first.start is not None
    assert second.start is not None
    assert second.start - decided < 0.1
    # What the loudspeaker gave, without trust in our own clock: positive, then negative.
    was_routine = np.count_nonzero(heard > 7000) / RATE
    assert was_routine == pytest.approx(decided - first.start, abs=0.1)
    assert np.count_nonzero(heard < -7000) / RATE == pytest.approx(0.5, abs=0.03)
    after = np.flatnonzero((heard > 3000) & (heard < 5000))
    assert len(after) / RATE == pytest.approx(0.25, abs=0.03)
    assert after[len(after) // 2] > np.flatnonzero(heard < -7000)[-1]


def test_stop_silences_the_loudspeaker(card: SoundCard, player: Player, tmp_path: Path) -> None:
    with recorded(card, tmp_path / "heard.wav"):
        playback = player.play(np.full(RATE * 3, 8000, np.int16), urgent=True)
        wait_until(lambda: playback.start is not None, "it sounds")
        time.sleep(0.5)
        player.stop()
    assert sounding(read(tmp_path / "heard.wav")) == pytest.approx(0.5, abs=0.1)


def test_everything_survives_the_death_and_return_of_the_sound_card(tmp_path: Path) -> None:
    with SoundCard() as card:
        ear, player = Ear(Microphone()), Player()
        try:
            count, began = len(ear.samples), time.monotonic()
            card.kill()
            lost = ear.news.get(timeout=3)
            assert isinstance(lost, SourceLost)
            wait_until(lambda: player.lost, "the loudspeaker is missed", 3)
            # Prompts pass unheard in their own time, and stream time runs on.
            unheard = player.play(noise(0.5))
            assert unheard.wait(2)
            assert unheard.unheard
            time.sleep(1.0)
            passed = time.monotonic() - began
            assert (len(ear.samples) - count) / RATE == pytest.approx(passed, abs=0.3)
            assert not ear.samples[count + RATE :].any()
            card.restart()
            restored = ear.news.get(timeout=8)
            assert isinstance(restored, SourceRestored)
            passed = time.monotonic() - began
            assert restored.away == pytest.approx(passed, abs=0.5)
            assert (len(ear.samples) - count) / RATE == pytest.approx(passed, abs=0.5)
            wait_until(lambda: not player.lost, "the loudspeaker is back", 5)
            behind = ear.microphone.now() - len(ear.samples) / RATE
            assert -0.05 < behind < 0.5
            said = noise(0.5)
            card.speak(said)
            wait_until(lambda: likeness(ear.samples, said) > 0.99, "words arrive again", 3)
            with recorded(card, tmp_path / "heard.wav"):
                again = player.play(said)
                assert again.wait(3)
            assert not again.unheard
            assert likeness(read(tmp_path / "heard.wav"), said) > 0.95
            assert ear.news.empty()
        finally:
            ear.close()
            player.close()


def test_check_records_and_plays_back(card: SoundCard, tmp_path: Path) -> None:
    said = noise(0.5)
    with recorded(card, tmp_path / "heard.wav"):
        command = subprocess.Popen(
            [sys.executable, "-c", "from voicecheck.cli import main; main()", "audio",
             "--check", "4", "--json"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=card.env, cwd=REPOSITORY,
        )  # fmt: skip
        assert command.stderr is not None
        assert "speak now, for 4 s" in command.stderr.readline()
        while command.poll() is None:
            # Again and again: the first blocks of a microphone may come late.
            card.speak(said)
            time.sleep(0.2)
    assert command.returncode == 0
    assert command.stdout is not None
    result = json.loads(command.stdout.read())
    assert result["level"] == "good"
    assert result["speech_dbfs"] == pytest.approx(level_of(said).speech, abs=1)
    assert result["played_s"] == 4.0
    assert likeness(read(tmp_path / "heard.wav"), said) > 0.95
    assert "both work" in command.stderr.read()


def test_meter_tells_the_level_in_words(card: SoundCard) -> None:
    command = subprocess.run(
        [sys.executable, "-c", "from voicecheck.cli import main; main()", "audio",
         "--meter", "1"],
        capture_output=True, text=True, check=True, env=card.env,
        cwd=REPOSITORY,
    )  # fmt: skip
    assert f"{find_microphone().name}: nothing (speech -96 dBFS" in command.stdout
    assert "too quiet: speech below -40 dBFS" in command.stdout
