"""A calibration is fitted as promised: ordered bars, kept directions, limits held."""

from __future__ import annotations

import random

import pytest

from voicecheck.callouts import Stakes
from voicecheck.errors import VoicecheckError
from voicecheck.measure.fitting import COST, Example, fit
from voicecheck.measure.sentences import Kind

DIRECTIONS = {"good": 1, "bad": -1, "misleading": 1}


def examples(count: int = 400, *, voices: str = "abcd") -> list[Example]:
    """good tells what was said, with noise; misleading falls when it was said."""
    made = []
    choose = random.Random(4)
    kinds: list[Kind] = ["callout", "near_miss", "opposite", "chatter", "other_state"]
    for number in range(count):
        kind = kinds[number % 5] if number % 2 else "callout"
        said = kind == "callout" and choose.random() < 0.95
        features = {
            "good": choose.gauss(1.5 if said else -1.5, 1),
            "bad": choose.gauss(-0.5 if said else 0.5, 1),
            "misleading": choose.gauss(-1 if said else 1, 1),
            "constant": 1.0,
        }
        stakes = choose.choice(list(Stakes))
        voice = voices[number % len(voices)]
        made.append(Example(features, said, False, stakes, kind, voice, "clean"))
    return made


def test_better_evidence_never_lowers_the_probability() -> None:
    made = fit(examples(), DIRECTIONS)
    assert made.weights["good"].weight > 0
    assert made.weights["bad"].weight <= 0
    # The corpus says the opposite; the direction stands.
    assert made.weights["misleading"].weight == 0
    plain = {"good": 1.0, "bad": 0.0, "misleading": 0.0, "constant": 1.0}
    assert made.probability({**plain, "good": 2.0}) > made.probability(plain)


def test_dearer_callouts_have_higher_bars() -> None:
    act = fit(examples(), DIRECTIONS).act
    bars = [act[stakes] for stakes in Stakes]
    assert bars == sorted(bars, reverse=True)
    odds = [bar / (1 - bar) for bar in bars]
    assert odds[1] / odds[2] == pytest.approx(
        COST[Stakes.ADVANCES] / COST[Stakes.RECORDS_BAD], rel=1e-6
    )


def lone(stakes: Stakes, kind: Kind, *, objected: bool = False) -> Example:
    """As sure as can be, and never said."""
    features = {"good": 9.0, "bad": -9.0, "misleading": 0.0, "constant": 1.0}
    return Example(features, False, objected, stakes, kind, "a", "clean")


def test_only_its_own_mistakes_raise_the_bar_of_what_closes_as_good() -> None:
    data = examples()
    before = fit(data, DIRECTIONS).act
    for kind in ("opposite", "near_miss", "chatter", "other_state"):
        raised = fit([*data, lone(Stakes.CLOSES_GOOD, kind)], DIRECTIONS).act
        assert raised[Stakes.CLOSES_GOOD] > before[Stakes.CLOSES_GOOD], kind
    cheap = fit([*data, lone(Stakes.ASKS, "opposite")], DIRECTIONS).act
    assert cheap[Stakes.ASKS] > before[Stakes.ASKS]
    # A bar that others need is never above it.
    assert cheap[Stakes.CLOSES_GOOD] >= cheap[Stakes.ADVANCES]


def test_no_opposite_is_acted_on() -> None:
    data = examples()
    made = fit(data, DIRECTIONS)
    opposites = [e for e in data if e.kind == "opposite"]
    acted = [e for e in opposites if made.probability(e.features) >= made.act[e.stakes]]
    assert len(opposites) > 30
    assert not acted
    said = [e for e in data if e.said]
    assert sum(made.probability(e.features) >= made.act[e.stakes] for e in said) > len(said) / 2
    assert made.ask <= min(made.act.values())


def test_what_has_an_objection_needs_no_bar() -> None:
    data = examples()
    harmless, harmful = (
        fit([*data, lone(Stakes.ASKS, "opposite", objected=objected)], DIRECTIONS)
        for objected in (True, False)
    )
    assert harmful.act[Stakes.ASKS] > harmless.act[Stakes.ASKS]


def test_too_little_to_learn_from_is_told() -> None:
    for data in (examples(voices="a"), [e for e in examples() if e.said]):
        with pytest.raises(VoicecheckError, match="two or more voices"):
            fit(data, DIRECTIONS)
