"""Tones: told apart by pattern with pitch taken away, and mixed over what sounds."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from voicecheck.audio.prompts import PlaybackState, PromptQueue
from voicecheck.audio.source import RATE
from voicecheck.audio.tones import Tone, tone


def pattern(kind: Tone) -> list[int]:
    """Lengths in 10 ms of sound (positive) and gaps (negative): all that is left without pitch."""
    samples = tone(kind).astype(float)
    frames = samples[: len(samples) // 160 * 160].reshape(-1, 160)
    loud = np.sqrt((frames**2).mean(axis=1)) > 300
    return [
        len(list(group)) * (1 if sounding else -1) for sounding, group in itertools.groupby(loud)
    ]


def test_the_patterns_differ_without_any_pitch() -> None:
    beats = {kind: [length for length in pattern(kind) if length > 0] for kind in Tone}
    assert len({len(each) for each in beats.values()}) == len(Tone)
    assert min(beats[Tone.WARNING]) > 1.5 * max(beats[Tone.HEARD])
    assert min(beats[Tone.NOT_UNDERSTOOD]) >= 1.3 * max(beats[Tone.HEARD])


@pytest.mark.parametrize("kind", list(Tone))
def test_a_tone_is_short_and_does_not_click_or_clip(kind: Tone) -> None:
    samples = tone(kind).astype(int)
    assert len(samples) / RATE <= 0.5
    assert abs(samples[0]) < 100
    assert abs(samples[-1]) < 100
    assert 4000 < np.abs(samples).max() < 16000


def test_the_answer_heard_is_over_before_words_are_late() -> None:
    assert len(tone(Tone.HEARD)) / RATE < 0.08


def test_words_that_have_yet_to_begin_wait_for_the_tone() -> None:
    queue = PromptQueue()
    words = queue.play(np.full(800, 5000, np.int16), urgent=False)
    pip = queue.tone(np.full(160, 1000, np.int16))
    sound = queue.take(1600, audible=10.0)
    assert set(sound[:160]) == {1000}
    assert set(sound[160:960]) == {5000}
    assert not sound[960:].any()
    assert pip.state is words.state is PlaybackState.PLAYED
    assert (pip.start, words.start) == (10.0, pytest.approx(10.01))


def test_a_tone_sounds_over_words_at_once_and_never_overflows() -> None:
    queue = PromptQueue()
    queue.play(np.full(800, 30000, np.int16), urgent=False)
    first = queue.take(200, audible=0.0)
    queue.tone(np.full(300, 12000, np.int16))
    rest = queue.take(600, audible=0.0125)
    assert set(first) == {30000}
    assert set(rest[:300]) == {32767}
    assert set(rest[300:]) == {30000}


def test_a_warning_cuts_a_tone_and_silence_is_silence() -> None:
    queue = PromptQueue()
    pip = queue.tone(np.full(1600, 1000, np.int16))
    queue.take(100, audible=0.0)
    queue.play(np.full(50, -7000, np.int16), urgent=True)
    assert pip.state is PlaybackState.CUT
    assert set(queue.take(50, audible=0.1)) == {-7000}
    queue.tone(np.full(100, 1000, np.int16))
    queue.stop()
    assert not queue.take(100, audible=0.2).any()


def test_what_was_audible_is_known_tones_included() -> None:
    queue = PromptQueue()
    queue.tone(np.full(1600, 1000, np.int16))
    queue.take(1600, audible=5.0)
    assert queue.sounded(5.05, 5.06)
    assert not queue.sounded(4.8, 5.0)
    assert not queue.sounded(5.1, 6.0)
    assert queue.audible(5.05)
    assert not queue.speaking(5.05)
    assert queue.heard(9.0) == []
