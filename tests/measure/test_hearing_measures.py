"""The measurements of the parts of hearing: their arithmetic by hand, and one small run each."""

from __future__ import annotations

import numpy as np
import pytest
from typer.testing import CliRunner

from voicecheck.cli import app
from voicecheck.measure.endpoint_delay import Placed, judge, stream_of
from voicecheck.measure.phone_confusions import choose_words, measure_phones
from voicecheck.measure.word_placement import measure_words
from voicecheck.measure.wording_confusions import Pair, choose, one_phone_away
from voicecheck.speech.confusion import PHONES, read_confusions
from voicecheck.speech.endpoint import RATE
from voicecheck.speech.verdict import Accepted, Spoken, Unclear
from voicecheck.world.mixing import audible, mixed
from voicecheck.world.synthesis import Talker

TALKER = Talker("flite", "slt")


def test_noise_stands_at_the_ratio_that_was_asked_for() -> None:
    tone = np.rint(8000 * np.sin(np.arange(RATE) * 0.1)).astype(np.int16)
    noisy = mixed(tone, 10.0, seed=1)
    noise = noisy.astype(float) - tone
    ratio = 20 * np.log10(np.sqrt(np.mean(tone.astype(float) ** 2)) / np.sqrt(np.mean(noise**2)))
    assert ratio == pytest.approx(10.0, abs=0.2)
    assert mixed(tone, None, seed=1) is tone
    assert np.max(np.abs(mixed(tone, -10.0, seed=1))) <= 32000


def test_what_nobody_hears_at_the_ends_is_cut_off() -> None:
    hiss = np.full(1600, 5, np.int16)
    loud = np.full(3200, 5000, np.int16)
    assert audible(np.concatenate([hiss, loud, hiss])).size == loud.size


def test_latency_and_what_is_right() -> None:
    def acted(start: float, end: float, decided: float, *words: str) -> Accepted:
        spoken = tuple(Spoken(w, w, start, end, 1.0) for w in words)
        return Accepted(spoken, start, end, decided)

    placed = [Placed(t, s, s + 1, p) for t, s, p in (("a b", 1, 0.0), ("c d", 4, 0.2), ("e", 7, 0))]
    verdicts = [
        acted(1.1, 2.0, 2.25, "a b"),
        acted(4.0, 4.4, 4.6, "c"),
        acted(4.6, 5.0, 5.3, "d"),
        Unclear(7.0, 8.0, 8.4, (), "?"),
    ]
    first, second, third = judge(placed, verdicts)
    assert (first.delay, first.right) == (pytest.approx(0.25), True)
    assert (second.delay, second.right) == (pytest.approx(0.3), True)
    assert (third.delay, third.right) == (pytest.approx(0.4), False)
    assert judge(placed, [])[0].delay is None


def test_callouts_stand_where_they_are_said_to() -> None:
    sound, placed = stream_of(TALKER, None)
    for callout in placed:
        inside = sound[int(callout.start * RATE) : int(callout.end * RATE)]
        before = sound[int(callout.start * RATE) - 4000 : int(callout.start * RATE)]
        assert np.abs(inside).max() > 1000
        assert not before.any()


def test_words_of_the_phone_table_have_every_phone() -> None:
    chosen = choose_words()
    assert len({said.word for said in chosen}) == len(chosen)
    assert {p for said in chosen for p in said.phones} == set(PHONES) - {"-"}


def test_a_small_phone_table() -> None:
    table, shown = measure_phones(3, (TALKER,), (None,))
    places = sum(len(said.phones) for said in choose_words(3))
    assert 0 < sum(table.counts.values()) <= places
    assert read_confusions(table.as_json(), "x").counts == table.counts
    assert {row[0] for row in shown.rows} <= set(PHONES)
    right = sum(n for (said, heard), n in table.counts.items() if said == heard)
    assert right / places > 5 / len(PHONES), "far above chance"


def test_pairs_are_drawn_bin_by_bin() -> None:
    pairs = [Pair(f"a{n}", f"b{n}", n / 10) for n in range(100)]
    low, high = choose(pairs, (0.0, 2.0, 20.0), 5)
    assert len(low) == len(high) == 5
    assert all(pair.distance < 2 for pair in low)
    assert all(pair.distance >= 2 for pair in high)
    assert "five warning" in set(one_phone_away("fire warning"))


def test_word_times_of_one_voice() -> None:
    table = measure_words((TALKER,), (None,))
    assert [row[1:3] for row in table.rows] == [
        ("words alone", "start"),
        ("words alone", "end"),
        ("bounded", "start"),
        ("bounded", "end"),
    ]
    for row in table.rows[2:]:
        assert isinstance(row[-1], int)
        assert row[-1] <= 130, "the default of word_error"


def test_the_commands_say_what_they_measure() -> None:
    shown = CliRunner().invoke(app, ["measure", "--help"])
    for name in ("phones", "wordings", "endpoint", "word-times"):
        assert name in shown.output
