"""Levels against figures that can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from voicecheck.audio.level import LevelMeter, Loudness, level_of
from voicecheck.audio.source import RATE, Samples


def sine(peak: float, seconds: float = 1.0) -> Samples:
    wave = np.sin(2 * np.pi * 500 * np.arange(round(seconds * RATE)) / RATE)
    return np.rint(wave * peak).astype(np.int16)


def test_a_full_scale_sine_is_3_db_below_a_square_wave() -> None:
    # 20 log10(1/sqrt(2)) = -3.01: the definition of RMS against a full-scale square wave.
    assert level_of(sine(32760)).speech == pytest.approx(-3.01, abs=0.02)
    assert level_of(np.full(RATE, 16384, np.int16)).speech == pytest.approx(-6.02, abs=0.01)


@pytest.mark.parametrize("down", [10, 26, 50])
def test_level_falls_db_by_db(down: float) -> None:
    level = level_of(sine(32768 * 10 ** (-down / 20)))
    assert level.speech == pytest.approx(-3.01 - down, abs=0.2)
    assert level.peak == pytest.approx(-down, abs=0.2)


@pytest.mark.parametrize(
    ("peak", "loudness"),
    [
        (0, Loudness.NOTHING),
        (30, Loudness.NOTHING),  # -60.8 dBFS
        (36, Loudness.TOO_QUIET),  # -59.2 dBFS
        (430, Loudness.TOO_QUIET),  # a sine at -40.6
        (500, Loudness.GOOD),  # a sine at -39.3
        (32000, Loudness.GOOD),
    ],
)
def test_words(peak: int, loudness: Loudness) -> None:
    level = level_of(sine(peak))
    assert level.loudness is loudness
    assert level.in_words().startswith(f"{loudness.value} (speech ")


def test_pauses_do_not_make_speech_quiet() -> None:
    talk = np.concatenate([np.zeros(RATE * 4, np.int16), sine(6000)])
    assert level_of(talk).speech == pytest.approx(level_of(sine(6000)).speech, abs=0.1)


def test_clipping_is_a_run_at_full_scale_even_across_blocks() -> None:
    quiet, full = np.zeros(400, np.int16), np.full(2, 32767, np.int16)
    two = LevelMeter()
    for part in (quiet, full, quiet, full):
        two.add(part)
    assert two.level().clipped == 0
    three = LevelMeter()
    for part in (quiet, full, full[:1], full[:1], quiet):
        three.add(part)
    assert three.level().clipped == 4
    assert three.level().loudness is Loudness.CLIPPING
    assert level_of(np.full(5, -32768, np.int16)).clipped == 5


def test_a_meter_can_begin_again() -> None:
    meter = LevelMeter()
    meter.add(np.full(RATE, 32767, np.int16))
    meter.clear()
    assert meter.level().loudness is Loudness.NOTHING
