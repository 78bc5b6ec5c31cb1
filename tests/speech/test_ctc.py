"""The scores of phrases: against a sum over every path, and fed in any pieces."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from voicecheck.speech import ctc


def _frames(count: int, classes: int, seed: int) -> ctc.Floats:
    scores = np.random.default_rng(seed).normal(size=(count, classes)) * 2
    return np.asarray(scores - np.log(np.exp(scores).sum(1, keepdims=True)))


def _collapsed(path: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(label for label, _ in itertools.groupby(path) if label != ctc.BLANK)


def _by_hand(frames: ctc.Floats, way: ctc.Way) -> tuple[float, float]:
    """ln of the sum over all paths that say the way, and of the likeliest of them."""
    count, classes = frames.shape
    values = [
        sum(frames[at, label] for at, label in enumerate(path))
        for path in itertools.product(range(classes), repeat=count)
        if _collapsed(path) == way
    ]
    return float(np.logaddexp.reduce(values)), float(max(values))


WAYS = ((1,), (1, 2), (1, 1), (2, 1, 2), (2, 2, 1), (1, 2, 1, 2))


@pytest.mark.parametrize("seed", range(3))
def test_totals_are_sums_over_every_path(seed: int) -> None:
    frames = _frames(6, 3, seed)
    expected = [_by_hand(frames, way)[0] for way in WAYS]
    assert ctc.totals(frames, WAYS) == pytest.approx(expected)


def test_a_way_that_does_not_fit_has_no_probability() -> None:
    frames = _frames(3, 3, 1)
    # Two equal phones need a blank between them: (1, 1, 2) takes four frames.
    assert ctc.totals(frames, [(1, 1, 2)])[0] < -1e20
    with pytest.raises(ValueError, match="3 frames cannot hold 3 phones"):
        ctc.align(frames, (1, 1, 2))


@pytest.mark.parametrize("cut", [1, 2, 5])
def test_pieces_change_nothing(cut: int) -> None:
    frames = _frames(9, 4, 5)
    forward = ctc.Forward([(1, 2, 3), (3,)])
    for at in range(0, 9, cut):
        forward.feed(frames[at : at + cut])
    assert forward.totals() == pytest.approx(ctc.totals(frames, [(1, 2, 3), (3,)]))


def test_before_any_frame_nothing_is_likely() -> None:
    assert (ctc.Forward([(1,), (2, 1)]).totals() < -1e20).all()


@pytest.mark.parametrize("ways", [[], [()], [(1,), ()]])
def test_a_phrase_without_phones_is_refused(ways: list[ctc.Way]) -> None:
    with pytest.raises(ValueError, match="without phones"):
        ctc.Forward(ways)


@pytest.mark.parametrize("way", WAYS)
def test_the_alignment_is_the_likeliest_path(way: ctc.Way) -> None:
    frames = _frames(6, 3, 7)
    found = ctc.align(frames, way)
    assert found.phones.sum() == pytest.approx(_by_hand(frames, way)[1])
    firsts, lasts = found.spans[:, 0], found.spans[:, 1]
    assert (firsts <= lasts).all()
    assert (firsts[1:] > lasts[:-1]).all()


def test_what_is_written_has_no_repetitions_and_no_blanks() -> None:
    frames = np.full((7, 4), -9.0)
    for at, label in enumerate((0, 1, 1, 0, 1, 3, 3)):
        frames[at, label] = 0.0
    assert ctc.written(frames) == (1, 1, 3)


def test_the_phones_are_numbered_from_one() -> None:
    assert sorted(ctc.NUMBERS.values()) == list(range(1, ctc.CLASSES))
    assert all(ctc.SPOKEN[number - 1] == phone for phone, number in ctc.NUMBERS.items())
