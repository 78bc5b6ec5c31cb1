"""Acceptance is pure: evidence is written down here by hand, as the listeners would give it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.callouts import Callout, Stakes
from voicecheck.speech.acceptance import LOOSE_HEAD, LOOSE_TAIL, candidate_of, decide
from voicecheck.speech.calibration import packaged
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.features import DIRECTIONS, features_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.listener import Hearing, Scores, Word
from voicecheck.speech.verdict import Accepted, Ignored, Unclear

GRAMMAR = Grammar(
    (
        Callout("greens:3", ("three green",), Stakes.CLOSES_GOOD, True),
        Callout("greens:2", ("two green",), Stakes.RECORDS_BAD, True),
        Callout("reds:1", ("one red",), Stakes.RECORDS_BAD, True),
        Callout("horn", ("horn sounding",), Stakes.CLOSES_GOOD, True),
        Callout("gear", ("going to gear",), Stakes.ADVANCES, False),
        Callout("one", ("bell",), Stakes.RECORDS_BAD, True),
        Callout("other", ("bell",), Stakes.CLOSES_GOOD, True),
    )
)
PHONES = {
    "gear": ("G", "IH", "R"),
    "flaps": ("F", "L", "AE", "P", "S"),
    "here": ("HH", "IH", "R"),
}


def evidence(
    words: str, rival: str | None, scores: dict[str, float] | None, free: str = ""
) -> Evidence:
    """Words of 0.4 s each from 0.5 s on, in an utterance that starts at stream time 10 s."""
    row = tuple(Word(w, 0.5 + 0.4 * i, 0.9 + 0.4 * i) for i, w in enumerate(words.split()))
    end = 10.5 + 0.4 * max(len(row), 2)
    sound = np.zeros(int((end + 0.4 - 10) * 16000), np.int16)
    utterance = Utterance(sound, 10.0, 10.5, end, end + 0.4, whole=True, voiced=True)
    texts = None if rival is None else tuple(rival.split())
    heard = Hearing(row, texts, None, proves=True, proof=tuple(words.split()))
    if scores is None:
        return Evidence(utterance, heard, None)
    tokens = {text: len(text.split()) + 1 for text in scores}
    return Evidence(utterance, heard, Scores(scores, tokens, free), frozenset({"no green"}), PHONES)


CLEAR = {"three green": -1.2, "two green": -4.5, "no green": -5.0, "horn sounding": -6.0}


def test_both_listeners_agree() -> None:
    verdict = decide(evidence("three green", "three green", CLEAR, "three green"), GRAMMAR)
    assert isinstance(verdict, Accepted)
    (spoken,) = verdict.spoken
    assert (spoken.callout, spoken.words) == ("greens:3", "three green")
    assert (spoken.start, spoken.end) == pytest.approx((10.5, 11.3))
    assert verdict.decided == pytest.approx(11.7)


def test_scores_that_are_no_numbers_are_never_acted_on() -> None:
    broken = dict.fromkeys(CLEAR, float("nan"))
    verdict = decide(evidence("three green", "three green", broken, "three green"), GRAMMAR)
    assert isinstance(verdict, Unclear)
    assert verdict.reason == "the second listener's scores are not numbers"


def test_each_part_of_a_row_has_its_own_time() -> None:
    text = "three green and one red"
    scores = {text: -1.0, "three green": -2.0, "two green and one red": -3.0}
    verdict = decide(evidence(text, text, scores, text), GRAMMAR)
    assert isinstance(verdict, Accepted)
    assert [s.callout for s in verdict.spoken] == ["greens:3", "reds:1"]
    assert verdict.spoken[1].start == pytest.approx(11.7)


def test_the_listeners_disagree_about_the_count() -> None:
    verdict = decide(evidence("two green", "two green", CLEAR, "three green"), GRAMMAR)
    assert isinstance(verdict, Unclear)
    assert [s.callout for s in verdict.guess] == ["greens:3"]


@pytest.mark.parametrize("heard", ["", "three", "three three", "green three"])
def test_half_a_phrase_is_no_callout(heard: str) -> None:
    verdict = decide(evidence(heard, heard, CLEAR, "three green"), GRAMMAR)
    assert not isinstance(verdict, Accepted)


@pytest.mark.parametrize("decoy", ["no green", "four green", "three green failed"])
def test_a_decoy_that_scores_higher_blocks(decoy: str) -> None:
    scores = {**CLEAR, decoy: -0.9}
    verdict = decide(evidence("three green", "three green", scores), GRAMMAR)
    assert not isinstance(verdict, Accepted)


def test_the_neighbour_count_nearly_as_likely_is_asked_about() -> None:
    scores = {**CLEAR, "two green": -1.6}
    verdict = decide(evidence("three green", "three green", scores), GRAMMAR)
    assert isinstance(verdict, Unclear)
    assert "'two green'" in verdict.reason


def test_free_text_that_is_another_callout_blocks() -> None:
    scores = {"three green": -0.5, "two green": -3.5}
    verdict = decide(evidence("three green", "three green", scores, "two green"), GRAMMAR)
    assert not isinstance(verdict, Accepted)


def test_free_text_that_is_another_callout_but_for_a_plural_blocks() -> None:
    # Both listeners took "three" for "two" here; the free text says what was said.
    text, written = "two green and horn sounding", "three greens and horn sounding"
    scores = {text: -0.6, "three green and horn sounding": -1.6, written: -0.4}
    assert not isinstance(decide(evidence(text, text, scores, written), GRAMMAR), Accepted)


def test_free_text_that_sounds_unlike_it_blocks() -> None:
    scores = {"going to gear": -2.6, "going to flaps": -0.8, "going to here": -0.8}
    said = evidence("going to gear", "going to gear", scores, "going to flaps")
    assert not isinstance(decide(said, GRAMMAR), Accepted)
    near = evidence("going to gear", "going to gear", scores, "going to here")
    assert not isinstance(decide(near, GRAMMAR), Ignored)


def test_chatter_is_ignored_not_asked_about() -> None:
    scores = {"three green": -7.0, "two green": -7.2, "did you have breakfast": -0.4}
    said = evidence("", "do you", scores, "did you have breakfast")
    assert isinstance(decide(said, GRAMMAR), Ignored)


@pytest.mark.parametrize(("head", "tail"), [(LOOSE_HEAD + 0.1, 0.0), (0.0, LOOSE_TAIL + 0.1)])
def test_speech_that_no_word_explains_blocks(head: float, tail: float) -> None:
    said = evidence("three green", "three green", CLEAR, "three green")
    longer = replace(
        said.utterance, start=said.utterance.start - head, end=said.utterance.end + tail
    )
    verdict = decide(replace(said, utterance=longer), GRAMMAR)
    assert not isinstance(verdict, Accepted)
    assert verdict.reason == "more was said than the callout"


def test_a_wording_with_two_meanings_is_asked_about() -> None:
    for scores in ({"bell": -0.5}, None):
        verdict = decide(evidence("bell", "bell", scores), GRAMMAR)
        assert isinstance(verdict, Unclear)


def test_clicks_and_endless_speech_are_never_acted_on() -> None:
    said = evidence("three green", "three green", CLEAR, "three green")
    click = replace(said, utterance=replace(said.utterance, voiced=False))
    assert isinstance(decide(click, GRAMMAR), Ignored)
    endless = replace(said, utterance=replace(said.utterance, whole=False))
    assert not isinstance(decide(endless, GRAMMAR), Accepted)


def test_one_listener_acts_only_when_decoys_and_proof_agree() -> None:
    easy = replace(packaged()["grammar"], act=dict.fromkeys(Stakes, 0.0), ask=0.0)
    said = evidence("horn sounding", "horn sounding", None)
    assert isinstance(decide(said, GRAMMAR, {"grammar": easy}), Accepted)
    doubted = evidence("three green", "two green", None)
    assert isinstance(decide(doubted, GRAMMAR, {"grammar": easy}), Unclear)
    assert isinstance(decide(evidence("three green", "let me look", None), GRAMMAR), Ignored)
    assert isinstance(decide(evidence("three green", None, None), GRAMMAR), Ignored)
    said = evidence("horn sounding", "horn sounding", None)
    for proof in (("horn", "surrounding"), ()):
        unsure = replace(said, hearing=replace(said.hearing, proof=proof))
        assert not isinstance(decide(unsure, GRAMMAR), Accepted)


def test_a_listener_that_proves_nothing_looks_twice() -> None:
    said = evidence("horn sounding", "horn sounding", None)
    for again in (("two", "green"), (), None):
        plain = replace(said.hearing, proves=False, proof=(), again=again)
        unsure = replace(said, hearing=plain)
        assert unsure.listeners == "plain grammar"
        assert not isinstance(decide(unsure, GRAMMAR), Accepted)


@pytest.mark.parametrize("words", ["three green", "horn sounding and one red"])
def test_one_listener_asks_about_what_has_a_neighbour_and_about_rows(words: str) -> None:
    verdict = decide(evidence(words, words, None), GRAMMAR)
    assert isinstance(verdict, Unclear)
    assert " and ".join(s.words for s in verdict.guess) == words


@pytest.mark.parametrize("listeners", sorted(packaged()))
def test_what_costs_more_needs_more(listeners: str) -> None:
    calibration = packaged()[listeners]
    bars = [calibration.act[stakes] for stakes in Stakes]
    assert bars == sorted(bars, reverse=True)
    assert calibration.ask <= min(bars)
    assert bars[-1] >= 0.3  # the cheapest bar: as likely as not, by its cost of a half


def test_the_packaged_weights_keep_their_directions() -> None:
    for calibration in packaged().values():
        for name, weight in calibration.weights.items():
            assert weight.weight * DIRECTIONS.get(name, 0) >= 0
            assert weight.scale > 0


def test_features_are_those_of_the_calibration() -> None:
    both = evidence("three green", "three green", CLEAR, "three green")
    alone = evidence("three green", "three green", None)
    plain = replace(both.hearing, proves=False)
    unproven = (replace(both, hearing=plain),)
    assert both.scores is not None
    regrets = replace(both.scores, regret=dict.fromkeys(CLEAR, 0.0), kind="moonshine")
    moonshine = replace(both, scores=regrets)
    by_listeners = (both, alone, moonshine, replace(moonshine, hearing=None))
    for said in (*by_listeners, replace(both, hearing=None), *unproven):
        candidate = candidate_of(said, GRAMMAR)
        assert candidate is not None
        found = features_of(said, GRAMMAR, candidate)
        assert set(found) == set(packaged()[said.listeners].weights)


def test_the_scorer_alone_gives_times_by_share_of_words() -> None:
    said = replace(evidence("three green", "", CLEAR, "three green"), hearing=None)
    verdict = decide(said, GRAMMAR)
    assert not isinstance(verdict, Ignored)


def test_the_bar_of_the_stakes_decides() -> None:
    said = evidence("three green", "three green", CLEAR, "three green")
    calibration = packaged()["grammar+whisper"]
    candidate = candidate_of(said, GRAMMAR)
    assert candidate is not None
    sure = calibration.probability(features_of(said, GRAMMAR, candidate))
    for bar, kind in ((sure + 1e-9, Unclear), (sure, Accepted)):
        strict = replace(calibration, act={**calibration.act, Stakes.CLOSES_GOOD: bar}, ask=0.1)
        assert isinstance(decide(said, GRAMMAR, {"grammar+whisper": strict}), kind)
    deaf = replace(calibration, act=dict.fromkeys(Stakes, 1.0), ask=1.0)
    assert isinstance(decide(said, GRAMMAR, {"grammar+whisper": deaf}), Ignored)


def test_listeners_that_were_not_calibrated_together_only_ask() -> None:
    said = evidence("three green", "three green", CLEAR, "three green")
    verdict = decide(said, GRAMMAR, {"grammar": packaged()["grammar"]})
    assert isinstance(verdict, Unclear)
    assert verdict.guess == ()


TEXTS = ["three green", "two green", "one red", "no green", "horn sounding", "going to gear"]
SCORES = st.dictionaries(st.sampled_from(TEXTS), st.floats(-9, -0.01), min_size=1)


@given(st.sampled_from(TEXTS), st.sampled_from(TEXTS), SCORES, st.data())
def test_nothing_is_accepted_but_the_best_of_both(
    heard: str, rival: str, scores: dict[str, float], data: st.DataObject
) -> None:
    free = data.draw(st.sampled_from(["", *sorted(scores)]))
    verdict = decide(evidence(heard, rival, scores, free), GRAMMAR)
    if isinstance(verdict, Accepted):
        assert " ".join(s.words for s in verdict.spoken) == heard
        ours = {text: s for text, s in scores.items() if text != "no green"}
        assert max(ours, key=lambda text: ours[text]) == heard
        assert scores.get("no green", -99.0) < scores[heard]
        assert free != "no green"
