"""Where our own listener leads: what it may act on, and what its witnesses must say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from voicecheck.callouts import Callout, Stakes
from voicecheck.speech.acceptance import decide
from voicecheck.speech.calibration import packaged
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.listener import Hearing, Scores, Word
from voicecheck.speech.phone_fit import Fit
from voicecheck.speech.verdict import Accepted, Unclear, Verdict

GRAMMAR = Grammar(
    (
        Callout("greens:3", ("three green",), Stakes.CLOSES_GOOD, True),
        Callout("greens:2", ("two green",), Stakes.RECORDS_BAD, True),
        Callout("horn:bad", ("no horn",), Stakes.RECORDS_BAD, True),
    )
)
SURE = Fit("three green", 9, 0.0, -0.1, 0.0, 20.0, 20.0, 1.0, "two green", ())
SCORES = {"three green": -1.2, "two green": -4.5, "no green": -5.0, "no horn": -6.0}


def evidence(fit: Fit, heard: str, free: str | None) -> Evidence:
    """Words of 0.4 s each from 0.5 s on; free: what the scorer wrote, None without one."""
    words = tuple(Word(w, 0.5 + 0.4 * i, 0.9 + 0.4 * i) for i, w in enumerate(heard.split()))
    sound = np.zeros(32000, np.int16)
    utterance = Utterance(sound, 10.0, 10.5, 11.3, 11.7, whole=True, voiced=True)
    hearing = Hearing(words, tuple(heard.split()), proves=True)
    tokens = dict.fromkeys(SCORES, 3)
    scores = None if free is None else Scores(SCORES, tokens, free, kind="moonshine")
    return Evidence(utterance, hearing, scores, frozenset({"no green"}), fit=fit)


def judged(fit: Fit, heard: str, free: str | None) -> Verdict:
    return decide(evidence(fit, heard, free), GRAMMAR)


@pytest.mark.parametrize("free", ["three green", None])
def test_a_sure_fit_with_a_witness_is_acted_on(free: str | None) -> None:
    verdict = judged(SURE, "three green", free)
    assert isinstance(verdict, Accepted)
    assert (verdict.spoken[0].callout, verdict.spoken[0].start) == ("greens:3", 10.5)


def test_good_news_without_any_witness_is_asked_about() -> None:
    verdict = judged(SURE, "no horn", None)
    assert isinstance(verdict, Unclear)
    assert verdict.guess[0].callout == "greens:3"


def test_bad_news_is_believed_where_the_grammar_listener_heard_nothing() -> None:
    fit = replace(SURE, text="two green", rival="three green")
    words = (Word("two", 0.4, 0.7), Word("green", 0.7, 1.2))
    found = evidence(replace(fit, words=words), "three", "two green")
    assert found.scores is not None
    scores = {**SCORES, "two green": -1.2, "three green": -4.5}
    verdict = decide(replace(found, scores=replace(found.scores, per_token=scores)), GRAMMAR)
    assert isinstance(verdict, Accepted)
    # The grammar listener heard something else: the times are those of the phones.
    assert (verdict.spoken[0].start, verdict.spoken[0].end) == (10.4, 11.2)


@pytest.mark.parametrize("which", ["lead", "decoys"])
def test_what_fits_as_well_is_never_acted_on(which: str) -> None:
    fit = replace(SURE, **{which: 0.9})
    assert not isinstance(judged(fit, "three green", "three green"), Accepted)


def test_the_scorer_that_writes_the_opposite_is_heeded() -> None:
    assert isinstance(judged(SURE, "three green", "no green"), Unclear)


def test_a_phone_that_does_not_fit_is_not_acted_on() -> None:
    fit = replace(SURE, text="two green", rival="three green", worst=-9.0, mean=-1.5, gap=-12.0)
    assert not isinstance(judged(fit, "no horn", None), Accepted)


def test_a_scorer_that_nobody_calibrated_is_left_out() -> None:
    strange = evidence(SURE, "three green", "three green")
    assert strange.scores is not None
    odd = replace(strange, scores=replace(strange.scores, kind="whisper"))
    plain = replace(strange, scores=None)
    assert odd.listeners not in packaged()
    assert decide(odd, GRAMMAR) == decide(plain, GRAMMAR)
