"""The echo test's arithmetic on rooms made of numbers; the live test is beside the sound card."""

from __future__ import annotations

import numpy as np
import pytest

from voicecheck.audio.echo import LIKENESS, MARGIN, Echo, examine, sweep
from voicecheck.audio.source import RATE, Samples

START = 0.75
END = START + len(sweep()) / RATE
TOTAL = round((END + 2.0) * RATE)


def room(noise: float, seed: int = 3) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, noise, TOTAL)


def with_echo(delay: float, db: float, fade: float, noise: float) -> Samples:
    """The sweep back after `delay` s at `db`, and a tail that falls by 60 dB in `fade` s."""
    way = np.zeros(round((delay + fade) * RATE) + 1)
    way[round(delay * RATE)] = 1.0
    if fade:
        count = len(way) - round(delay * RATE)
        tail = np.random.default_rng(5).normal(0, 0.03, count)
        way[-count:] += tail * 10 ** (-3 * np.arange(count) / count)
    heard = room(noise)
    size = 1 << (len(sweep()) + len(way)).bit_length()
    came = np.fft.irfft(np.fft.rfft(sweep().astype(float), size) * np.fft.rfft(way, size), size)
    came = came[: len(sweep()) + len(way) - 1] * 10 ** (db / 20)
    at = round(START * RATE)
    heard[at : at + len(came)] += came
    return np.clip(heard, -32768, 32767).astype(np.int16)


@pytest.mark.parametrize("delay", [0.0, 0.04, 0.25, 0.8])
@pytest.mark.parametrize("db", [0, -6, -30])
def test_an_echo_is_found_with_its_delay(delay: float, db: float) -> None:
    found = examine(with_echo(delay, db, 0.0, 30), sweep(), START, END)
    assert found.heard
    assert found.delay == pytest.approx(delay, abs=0.001)
    assert found.tail == pytest.approx(delay + MARGIN, abs=0.03)
    assert found.in_words().startswith("speaker: prompts come back after")


def test_an_echo_under_the_rooms_own_noise_is_still_found() -> None:
    """10 dB under: what a detector of speech may still wake up at is not missed."""
    quiet = 20 * np.log10(100 / 3000)
    loud = float(np.sqrt(np.mean(sweep().astype(float) ** 2)))
    heard = with_echo(0.05, quiet, 0.0, loud * 10 ** (quiet / 20) * 10**0.5)
    assert examine(heard, sweep(), START, END).heard


def test_the_tail_follows_the_room() -> None:
    dry, wet = (examine(with_echo(0.05, -6, f, 30), sweep(), START, END) for f in (0.1, 1.0))
    assert wet.tail > dry.tail + 0.2


@pytest.mark.parametrize("seed", range(20))
def test_noise_alone_is_no_echo(seed: int) -> None:
    heard = np.clip(room(3000, seed), -32768, 32767).astype(np.int16)
    found = examine(heard, sweep(), START, END)
    assert found.likeness < 0.1 < LIKENESS / 1.5
    assert (found.delay, found.tail) == (0.0, 0.0)
    assert found.in_words().startswith("headset")


def test_a_crew_that_talks_meanwhile_is_no_echo(speech: Samples) -> None:
    for at in range(0, len(speech) - TOTAL, RATE * 3):
        found = examine(speech[at : at + TOTAL], sweep(), START, END)
        assert found.likeness < 0.1, f"at {at / RATE:.0f} s"


def test_digital_silence_is_no_echo() -> None:
    assert examine(np.zeros(TOTAL, np.int16), sweep(), START, END) == Echo(0.0, 0.0, 0.0, 0.0)


@pytest.fixture(scope="module")
def speech() -> Samples:
    import soundfile

    from voicecheck.shipped import recordings_dir

    samples: Samples = soundfile.read(recordings_dir() / "three-findings.wav", dtype="int16")[0]
    return samples
