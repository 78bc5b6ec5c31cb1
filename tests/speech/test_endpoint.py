from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.speech.endpoint import BLOCK, RATE, Endpointer, Rules, Utterance

RULES = Rules()


def run(pattern: str) -> list[Utterance]:
    """'s' a block of speech, '.' of quiet; the sound itself carries the block's number."""
    likely = iter({"s": 0.9, ".": 0.05, "m": 0.4}[sign] for sign in pattern)
    endpointer = Endpointer(lambda _: next(likely))
    ended = [endpointer.feed(np.full(BLOCK, number, np.int16)) for number in range(len(pattern))]
    return [u for u in (*ended, endpointer.finish()) if u is not None]


def test_an_utterance_has_its_times_and_its_surroundings() -> None:
    (utterance,) = run("." * 50 + "s" * 20 + "." * 30)
    block = BLOCK / RATE
    assert utterance.start == 50 * block
    assert utterance.end == 70 * block
    assert utterance.decided == (70 + RULES.hang_over) * block
    assert utterance.offset == (52 - RULES.lead) * block
    assert utterance.samples[0] == 52 - RULES.lead
    assert utterance.samples[-1] == 70 + RULES.hang_over - 1
    assert utterance.voiced
    assert utterance.whole


def test_a_pause_inside_a_callout_does_not_cut_it() -> None:
    assert len(run("." * 20 + "s" * 15 + "." * (RULES.hang_over - 1) + "s" * 15 + "." * 20)) == 1
    assert len(run("." * 20 + "s" * 15 + "." * RULES.hang_over + "s" * 15 + "." * 20)) == 2


def test_one_loud_block_is_a_click() -> None:
    assert run("....s....s....s" + "." * 20) == []


def test_a_cough_is_marked_as_too_short() -> None:
    (utterance,) = run("." * 20 + "sss" + "." * 20)
    assert not utterance.voiced


def test_doubtful_blocks_keep_speech_going_but_never_begin_it() -> None:
    assert run("m" * 40) == []
    (utterance,) = run("." * 20 + "ss" + "m" * 20 + "." * 20)
    assert utterance.end == 42 * BLOCK / RATE


def test_endless_speech_is_cut_and_says_so() -> None:
    first, *_ = run("." * 20 + "s" * (RULES.longest + 50))
    assert not first.whole


def test_the_rest_of_what_was_cut_is_not_whole_either() -> None:
    long = "s" * (RULES.longest + 50)
    for pauses in ("", "..", "." * (RULES.hang_over - 1)):
        first, left = run("." * 20 + long + pauses + "s" * 20 + "." * 20)
        assert (first.whole, left.whole) == (False, False)
        assert first.end == left.start
    # A pause just where it is cut counts from its beginning.
    cut = "." * 20 + "s" * (RULES.longest - 9) + "." * 9
    rest = "s" * 20 + "." * 20
    short, enough = "." * (RULES.hang_over - 10), "." * (RULES.hang_over - 9)
    assert [u.whole for u in run(cut + short + rest)] == [False, False]
    assert [u.whole for u in run(cut + enough + rest)] == [False, True]
    # After a real silence a callout is a callout again.
    after = run("." * 20 + long + "." * RULES.hang_over + "s" * 20 + "." * 20)
    assert [u.whole for u in after] == [False, False, True]
    assert [u.whole for u in run("." * 20 + long)] == [False, False]


def test_the_end_of_the_stream_ends_an_utterance() -> None:
    (utterance,) = run("." * 20 + "s" * 20)
    assert utterance.end == 40 * BLOCK / RATE


@given(st.text(alphabet="s.m", max_size=200))
def test_utterances_never_overlap_and_lie_inside_the_stream(pattern: str) -> None:
    before = 0.0
    for utterance in run(pattern):
        assert before <= utterance.start < utterance.end <= utterance.decided
        assert utterance.decided <= len(pattern) * BLOCK / RATE
        assert 0 <= utterance.offset <= utterance.start
        assert utterance.samples.size % BLOCK == 0
        before = utterance.end
