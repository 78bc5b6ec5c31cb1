"""One prompt at a time, warnings first: checked on a clock that only the test moves."""

from __future__ import annotations

import numpy as np
import pytest

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.prompts import PlaybackState, PromptQueue
from voicecheck.audio.source import RATE, Samples


class HandClock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def sound(seconds: float, value: int = 1000) -> Samples:
    return np.full(round(seconds * RATE), value, np.int16)


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def player(clock: HandClock) -> SilentPlayer:
    return SilentPlayer(clock)


def test_a_prompt_takes_its_own_time(player: SilentPlayer, clock: HandClock) -> None:
    clock.now = 103.0
    prompt = player.play(sound(1.5))
    clock.now = 104.0
    assert player.audible
    assert prompt.state is PlaybackState.SOUNDING
    assert player.heard() == []
    clock.now = 110.0
    assert player.heard() == [(pytest.approx(103.0), pytest.approx(104.5))]
    assert player.heard() == []
    assert prompt.state is PlaybackState.PLAYED
    assert prompt.unheard
    assert not player.audible


def test_routine_prompts_queue(player: SilentPlayer, clock: HandClock) -> None:
    player.play(sound(1))
    player.play(sound(2))
    clock.now += 10
    assert player.heard() == [
        (pytest.approx(100), pytest.approx(101)),
        (pytest.approx(101), pytest.approx(103)),
    ]


def test_a_warning_cuts_all_that_is_routine(player: SilentPlayer, clock: HandClock) -> None:
    first, second = player.play(sound(2)), player.play(sound(2))
    clock.now += 0.5
    warning = player.play(sound(1), urgent=True)
    assert (first.state, second.state) == (PlaybackState.CUT, PlaybackState.CUT)
    assert first.wait(0)
    assert second.start is None
    clock.now += 5
    assert player.heard() == [
        (pytest.approx(100), pytest.approx(100.5)),
        (pytest.approx(100.5), pytest.approx(101.5)),
    ]
    assert warning.state is PlaybackState.PLAYED


def test_nothing_routine_stops_a_warning(player: SilentPlayer, clock: HandClock) -> None:
    warning = player.play(sound(1), urgent=True)
    routine = player.play(sound(1))
    other = player.play(sound(1), urgent=True)
    clock.now += 10
    assert player.audible is False
    assert warning.state is other.state is PlaybackState.PLAYED
    assert other.start == pytest.approx(101)
    # Asked before the second warning came, so it is out of date.
    assert routine.state is PlaybackState.CUT


def test_stop_cuts_everything(player: SilentPlayer, clock: HandClock) -> None:
    warning = player.play(sound(1), urgent=True)
    clock.now += 0.25
    player.stop()
    assert warning.state is PlaybackState.CUT
    assert player.heard() == [(pytest.approx(100), pytest.approx(100.25))]


def test_idle_time_is_not_played_later(player: SilentPlayer, clock: HandClock) -> None:
    clock.now += 60
    player.play(sound(1))
    clock.now += 0.5
    assert player.audible
    clock.now += 1
    assert player.heard() == [(pytest.approx(160), pytest.approx(161))]


def test_samples_come_out_in_order_and_whole() -> None:
    prompts = PromptQueue()
    prompts.play(np.arange(1, 701, dtype=np.int16), urgent=False)
    prompts.play(np.arange(701, 1001, dtype=np.int16), urgent=False)
    taken = np.concatenate([prompts.take(512, n * 0.032) for n in range(3)])
    assert np.array_equal(taken[:1000], np.arange(1, 1001))
    assert not taken[1000:].any()


def test_a_span_is_on_the_ears_clock() -> None:
    prompts = PromptQueue()
    prompts.take(512, 5.0)
    prompt = prompts.play(sound(0.04), urgent=False)
    prompts.take(512, 7.0)
    prompts.take(512, 7.032)
    assert (prompt.start, prompt.end) == (7.0, pytest.approx(7.04))
    assert prompts.audible(7.039)
    assert not prompts.audible(7.041)
    assert prompts.heard(7.039) == []
    assert prompts.heard(7.041) == [(7.0, pytest.approx(7.04))]


def test_a_device_with_another_rate_keeps_time_and_place() -> None:
    prompts = PromptQueue()
    prompt = prompts.play(sound(1.0), urgent=False)
    prompts.take(RATE // 2, 0.0)
    prompts.retune(48_000)
    prompts.take(48_000, 0.5)
    assert prompt.state is PlaybackState.PLAYED
    assert prompt.end == pytest.approx(1.0, abs=0.001)
    late = prompts.play(sound(0.5), urgent=False)
    assert prompts.left() == 24_000
    prompts.take(24_000, 2.0)
    assert late.end == pytest.approx(2.5)


def test_a_prompt_without_sound_is_over_at_once() -> None:
    prompts = PromptQueue()
    prompt = prompts.play(np.zeros(0, np.int16), urgent=False)
    prompts.take(1, 3.0)
    assert prompt.state is PlaybackState.PLAYED
    assert prompt.start == prompt.end == 3.0
