"""A logistic calibration fitted to examples, and the bars that keep false accepts rare."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.callouts import Stakes
from voicecheck.errors import VoicecheckError
from voicecheck.measure.intervals import library
from voicecheck.measure.sentences import Kind
from voicecheck.speech.calibration import Calibration, Weight

COST: Final = {
    Stakes.CLOSES_GOOD: 6.0,
    Stakes.ADVANCES: 1.5,
    Stakes.RECORDS_BAD: 1.0,
    Stakes.ASKS: 0.5,
}
"""What a mistake costs, relative to a finding that the crew must take back."""
RIDGE: Final = 1.0
"""Weight of the squared coefficients against the sum of the log losses."""
LIMITS: Final[Mapping[Kind, float]] = {
    "callout": 0.01,
    "near_miss": 0.03,
    "sound_alike": 0.25,  # two phones apart or less: an accent or the noise makes them one
    "opposite": 0.0,
    "chatter": 0.005,
    "other_state": 0.005,
}
"""Share of each kind that may be acted on wrongly, over all noise levels together."""
GOOD_LIMITS: Final[Mapping[Kind, float]] = {
    "callout": 0.005,
    "near_miss": 0.01,
    "sound_alike": 0.20,
    "opposite": 0.0,
    "chatter": 0.0,
    "other_state": 0.0,
}
"""The same of what would close something as good: the one mistake that nobody forgives."""
CALLOUTS: Final = 0.8
"""Share of what a crew says in a test that is a callout: assumed, no source. A corpus is made to
have far fewer, and a probability fitted to it is too low by as much."""
LONELY: Final = 3.0
"""Strictness where our own listener has the grammar listener alone for a witness: that one says no
to hardly any near miss of a phone or two."""
ASKED: Final = 0.10
"""Share of chatter and other states' callouts that may be asked about."""


@dataclass(frozen=True, slots=True)
class Example:
    """One utterance: its features, whether its candidate was said, and what it was.

    objected: whether acceptance has an objection, so that no probability makes it act.
    """

    features: Mapping[str, float]
    said: bool
    objected: bool
    stakes: Stakes
    kind: Kind
    voice: str
    noise: str


def completed(examples: Sequence[Example]) -> list[Example]:
    """What one of them does not know counts there as it does in the mean of those that do.

    So a witness that was asked about some utterances alone can be weighed beside evidence of all.
    """
    names = dict.fromkeys(name for e in examples for name in e.features)
    known = {n: [e.features[n] for e in examples if n in e.features] for n in names}
    usual = {name: float(np.mean(values)) for name, values in known.items()}
    return [replace(e, features={**usual, **e.features}) for e in examples]


def fit(
    examples: Sequence[Example], directions: Mapping[str, int], strictness: float = 1.0
) -> Calibration:
    """Weights on all examples; bars on predictions for voices that were left out of the fit.

    directions: feature -> 1 when more of it must never make a callout less likely, -1 when
    never more, 0 when either; strictness: how many times less may be
    acted on wrongly. Raises VoicecheckError when there is too little to learn from.
    """
    voices = sorted({example.voice for example in examples})
    examples = completed(examples)
    if len(voices) < 2 or len({example.said for example in examples}) < 2:
        raise VoicecheckError(
            "too little to calibrate on: give callouts and other speech by two or more voices"
        )
    unseen = np.zeros(len(examples))
    for voice in voices:
        others = [e for e in examples if e.voice != voice]
        if len({example.said for example in others}) < 2:
            raise VoicecheckError(f"all callouts or all other speech is by {voice}; add voices")
        weights, intercept = _weights(others, directions)
        left_out = Calibration(intercept, weights, {}, 0.0)
        for at, example in enumerate(examples):
            if example.voice == voice:
                unseen[at] = left_out.probability(example.features)
    weights, intercept = _weights(examples, directions)
    act = _act(examples, unseen, strictness)
    return Calibration(intercept, weights, act, min(_ask(examples, unseen), *act.values()))


def _weights(
    examples: Sequence[Example], directions: Mapping[str, int]
) -> tuple[dict[str, Weight], float]:
    names = list(examples[0].features)
    share = _shares(examples)
    values = np.array([[e.features[name] for name in names] for e in examples])
    said = np.array([e.said for e in examples], dtype=float)
    mean, scale = values.mean(axis=0), values.std(axis=0)
    scale[scale < 1e-9] = 1.0
    reduced = (values - mean) / scale

    def loss(solution: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        odds = reduced @ solution[:-1] + solution[-1]
        error = share * (1 / (1 + np.exp(-np.clip(odds, -30, 30))) - said)
        total = float(share @ (np.logaddexp(0, odds) - said * odds))
        slope = np.append(reduced.T @ error, error.sum())
        slope[:-1] += 2 * RIDGE * solution[:-1]
        return total + RIDGE * float(solution[:-1] @ solution[:-1]), slope

    bounds = [_BOUNDS[directions.get(name, 0)] for name in names]
    found = library("scipy.optimize").minimize(
        loss,
        np.zeros(len(names) + 1),
        jac=True,
        method="L-BFGS-B",
        bounds=[*bounds, (None, None)],
    )
    weights = {
        name: Weight(float(mean[at]), float(scale[at]), float(found.x[at]))
        for at, name in enumerate(names)
    }
    return weights, float(found.x[-1])


def _shares(examples: Sequence[Example]) -> NDArray[np.float64]:
    """Weight of each example: every engine counts the same, however many voices it has.

    Most voices are of engines that the listener of our own was trained with, and fit it too well to
    tell how a person fits.
    """
    engines = [example.voice.split()[0] for example in examples]
    counts = Counter(engines)
    return np.array([len(engines) / (len(counts) * counts[engine]) for engine in engines])


_BOUNDS: Final = {1: (0.0, None), -1: (None, 0.0), 0: (None, None)}


def _act(
    examples: Sequence[Example], unseen: NDArray[np.float64], strictness: float
) -> dict[Stakes, float]:
    """The lowest bars that keep within the limits; dearer callouts higher by their cost.

    What closes something as good has limits of its own: its mistakes are judged by themselves, not
    by how often a selector position is taken for another. No bar lies where a mistake would be
    likelier, by its cost, than what was said: in the corpus, and for what closes as good, whose
    limits are strict, were as many utterances callouts as in a cockpit.
    """
    odds = np.log(np.clip(unseen, 1e-9, 1 - 1e-9) / np.clip(1 - unseen, 1e-9, 1))
    over = [float(o) - log(COST[e.stakes]) for o, e in zip(odds, examples, strict=True)]
    pairs = list(zip(examples, over, strict=True))
    good = [pair for pair in pairs if pair[0].stakes is Stakes.CLOSES_GOOD]
    others = [pair for pair in pairs if pair[0].stakes is not Stakes.CLOSES_GOOD]
    said = sum(e.said for e in examples)
    rarer = log(CALLOUTS / (1 - CALLOUTS)) - log(said / (len(examples) - said))
    base = max(0.0, _within(others, LIMITS, strictness))
    bars = {stakes: base + log(cost) for stakes, cost in COST.items()}
    own = max(-rarer, _within(good, GOOD_LIMITS, strictness)) + log(COST[Stakes.CLOSES_GOOD])
    cheaper = max(bar for stakes, bar in bars.items() if stakes is not Stakes.CLOSES_GOOD)
    bars[Stakes.CLOSES_GOOD] = max(own, cheaper)
    return {stakes: 1 / (1 + exp(-bar)) for stakes, bar in bars.items()}


def _within(
    these: Sequence[tuple[Example, float]], limits: Mapping[Kind, float], strictness: float
) -> float:
    """Log odds over their cost from which these examples keep within the limits."""
    least = -inf
    for kind, limit in limits.items():
        of_kind = [(e, over) for e, over in these if e.kind == kind]
        bad = sorted((over for e, over in of_kind if not e.said and not e.objected), reverse=True)
        allowed = int(limit / strictness * len(of_kind))
        if len(bad) > allowed:
            least = max(least, bad[allowed] + 1e-6)
    return least


def _ask(examples: Sequence[Example], unseen: NDArray[np.float64]) -> float:
    """The lowest bar that leaves most of other people's talk alone."""
    talk = sorted(
        (
            float(unseen[at])
            for at, e in enumerate(examples)
            if e.kind in ("chatter", "other_state") and not e.said
        ),
        reverse=True,
    )
    allowed = int(ASKED * len(talk))
    return talk[allowed] + 1e-6 if len(talk) > allowed else 0.0
