"""Exact intervals against published values."""

from __future__ import annotations

import math

import pytest

from voicecheck.measure.intervals import clopper_pearson
from voicecheck.measure.tally import share


@pytest.mark.parametrize(
    ("hits", "trials", "level", "low", "high"),
    [
        # NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1 (section from memory).
        (4, 20, 0.90, 0.07135, 0.40103),
        # Computed with scipy 1.17.1: these guard the arguments; the next test has the method.
        (0, 100, 0.95, 0.0, 0.03622),
        (5, 100, 0.95, 0.01643, 0.11283),
        (95, 100, 0.95, 0.88717, 0.98357),
    ],
)
def test_clopper_pearson(hits: int, trials: int, level: float, low: float, high: float) -> None:
    assert clopper_pearson(hits, trials, level) == pytest.approx((low, high), abs=5e-6)


@pytest.mark.parametrize(("hits", "trials"), [(1, 4), (5, 100), (99, 100)])
def test_each_limit_leaves_its_tail(hits: int, trials: int) -> None:
    """As they define it (Biometrika 1934): at either limit what was seen has 2.5 % beyond it."""

    def tail(share: float, counts: range) -> float:
        parts = (math.comb(trials, k) * share**k * (1 - share) ** (trials - k) for k in counts)
        return math.fsum(parts)

    low, high = clopper_pearson(hits, trials)
    assert tail(low, range(hits, trials + 1)) == pytest.approx(0.025, abs=1e-9)
    assert tail(high, range(hits + 1)) == pytest.approx(0.025, abs=1e-9)


def test_rule_of_three() -> None:
    # None in n trials: one-sided 95 % limit about 3/n (Hanley and Lippman-Hand, JAMA 1983).
    assert clopper_pearson(0, 300, 0.90)[1] == pytest.approx(3 / 300, rel=0.01)


def test_none_tried_says_nothing() -> None:
    assert clopper_pearson(0, 0) == (0.0, 1.0)
    assert share(0, 0) == ""
    assert share(1, 4) == "25.0 (0.6-80.6)"


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="5 of 4"):
        clopper_pearson(5, 4)
