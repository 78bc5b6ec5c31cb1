"""The outer edges of what is acted on are held to those of the speech."""

from __future__ import annotations

import numpy as np
import pytest

from voicecheck.speech.boundaries import AFTER, BEFORE, bounded
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.verdict import Accepted, Ignored, Spoken

UTTERANCE = Utterance(np.zeros(0, np.int16), 9.5, 10.0, 12.0, 12.3, whole=True, voiced=True)


def accepted(*times: tuple[float, float]) -> Accepted:
    spoken = tuple(Spoken(str(at), "x", *pair, 0.9) for at, pair in enumerate(times))
    return Accepted(spoken, times[0][0], times[-1][1], 12.3)


@pytest.mark.parametrize(
    ("said", "held"),
    [
        ((10.02, 11.95), (10.02, 11.95)),  # as it mostly is
        ((9.6, 11.95), (10.0 - BEFORE, 11.95)),  # silence given to the first word
        ((10.3, 11.95), (10.0 + AFTER, 11.95)),  # the first word began in noise
        ((10.0, 12.4), (10.0, 12.0)),  # silence given to the last word
        ((10.0, 11.2), (10.0, 12.0 - BEFORE)),
    ],
)
def test_both_edges(said: tuple[float, float], held: tuple[float, float]) -> None:
    verdict = bounded(accepted(said), UTTERANCE)
    assert isinstance(verdict, Accepted)
    assert (verdict.spoken[0].start, verdict.spoken[0].end) == pytest.approx(held)
    assert (verdict.start, verdict.end) == pytest.approx(held)


def test_edges_inside_a_row_are_the_words_own() -> None:
    verdict = bounded(accepted((9.5, 10.8), (11.0, 12.6)), UTTERANCE)
    assert isinstance(verdict, Accepted)
    assert [(s.start, s.end) for s in verdict.spoken] == [
        (pytest.approx(9.9), 10.8),
        (11.0, pytest.approx(12.0)),
    ]


def test_only_what_is_acted_on_has_edges() -> None:
    ignored = Ignored(10.0, 12.0, 12.3, "noise")
    assert bounded(ignored, UTTERANCE) is ignored
