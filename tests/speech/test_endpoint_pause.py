"""A short pause ends what is a whole callout, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from voicecheck.callouts import Callout, Stakes
from voicecheck.speech.ear import Ear
from voicecheck.speech.endpoint import BLOCK, RATE, Endpointer, Rules
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Hearing, Word
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Verdict

RULES = Rules()
LEXICON = Lexicon({}, ("and",), (), (), ())


class Reads:
    """Hears the numbers in the blocks as words: block value 1 is the first word, and so on."""

    name = "reads"

    def __init__(self, words: tuple[str, ...]) -> None:
        self.words = words
        self.heard = 0

    def missing(self, words: object) -> tuple[str, ...]:
        return ()

    def listen(self, grammar: Grammar) -> None:
        pass

    def hear(self, samples: np.ndarray) -> Hearing:
        self.heard += 1
        said = sorted({int(abs(v)) for v in samples if 0 < abs(v) <= len(self.words)})
        at = 0.45
        words = []
        for number in said:
            words.append(Word(self.words[number - 1], at, at + 0.2))
            at += 0.2
        text = tuple(word.text for word in words)
        return Hearing(tuple(words), text, text)


def run(
    pattern: str, words: tuple[str, ...], *phrases: str, stakes: Stakes = Stakes.ASKS
) -> tuple[list[Verdict], Reads]:
    """A digit is a block of that word, '.' a quiet block. Verdicts of a live session's ear."""
    likely = iter(0.05 if sign == "." else 0.9 for sign in pattern + "." * 40)
    listener = Reads(words)
    endpointer = Endpointer(lambda _: next(likely))
    ear = Ear(endpointer, listener, None, LEXICON, {})
    ear.listen([Callout(p, (p,), stakes) for p in phrases])
    found = []
    for sign in pattern + "." * 30:
        value = 0 if sign == "." else int(sign)
        found += ear.feed(np.full(BLOCK, value, np.int16))
    return [*found, *ear.finish()], listener


def believe(evidence: Evidence, grammar: Grammar) -> Verdict:
    """Acts on every whole callout: when, not whether, is what these tests ask."""
    u, hearing = evidence.utterance, evidence.hearing
    assert hearing is not None
    parts = grammar.read(hearing.text)
    if parts is None:
        return Ignored(u.start, u.end, u.decided, "no callout")
    spoken = tuple(Spoken(p.callout.key, p.phrase, u.start, u.end, 1.0) for p in parts)
    return Accepted(spoken, u.start, u.end, u.decided)


@pytest.fixture(autouse=True)
def _believed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The lone listener's second look at half the level would halve the numbers for words."""
    monkeypatch.setattr("voicecheck.speech.ear._altered", lambda samples: samples)
    monkeypatch.setattr("voicecheck.speech.ear.decide", believe)


def test_a_whole_callout_is_acted_on_in_the_pause() -> None:
    (verdict,), _ = run("." * 20 + "1" * 8 + "2" * 8, ("say", "again"), "say again", "stand by")
    assert isinstance(verdict, Accepted)
    assert verdict.decided == pytest.approx((36 + RULES.pause) * BLOCK / RATE)


def test_what_is_no_callout_waits_for_the_long_silence() -> None:
    (verdict,), listener = run("." * 20 + "1" * 8, ("say", "again"), "say again", "stand by")
    assert isinstance(verdict, Ignored)
    assert verdict.decided == pytest.approx((28 + RULES.hang_over) * BLOCK / RATE)
    assert listener.heard == 1, "in the pause, and nothing was said after it"


def test_a_callout_with_a_pause_inside_is_one() -> None:
    pause = "." * (RULES.hang_over - 1)
    pattern = "." * 20 + "1" * 8 + pause + "2" * 8
    (verdict,), _ = run(pattern, ("say", "again"), "say again", "stand by")
    assert isinstance(verdict, Accepted)
    assert verdict.spoken[0].callout == "say again"


def test_what_closes_as_good_waits_for_the_long_silence() -> None:
    (verdict,), listener = run(
        "." * 20 + "1" * 8, ("green",), "green", "stand by", stakes=Stakes.CLOSES_GOOD
    )
    assert isinstance(verdict, Accepted)
    assert verdict.decided == pytest.approx((28 + RULES.hang_over) * BLOCK / RATE)
    assert listener.heard == 2, "in the pause, with the lone listener's check"


def test_a_callout_that_may_go_on_waits_to_be_another() -> None:
    """The ear alone knows that "test" may become "test complete"."""
    phrases = ("test", "test complete")
    pause = "." * (RULES.pause + 1)
    (verdict,), _ = run(
        "." * 20 + "1" * 8 + pause + "2" * 8, ("test", "complete"), *phrases, "stand by"
    )
    assert verdict.start == pytest.approx(20 * BLOCK / RATE)
    assert verdict.end == pytest.approx((36 + len(pause)) * BLOCK / RATE)


def test_two_callouts_parted_by_a_pause_are_both_heard() -> None:
    pattern = "." * 20 + "1" * 8 + "." * (RULES.pause + 1) + "2" * 8
    first, second = run(pattern, ("horn", "bell"), "horn", "bell")[0]
    assert isinstance(first, Accepted)
    assert isinstance(second, Accepted)
    assert [v.spoken[0].callout for v in (first, second)] == ["horn", "bell"]
    assert first.end <= second.start


def test_new_callouts_hold_from_the_pause_on() -> None:
    likely = iter([0.05] * 20 + [0.9] * 8 + [0.05] * 40)
    ear = Ear(Endpointer(lambda _: next(likely)), Reads(("horn",)), None, LEXICON, {})
    ear.listen([Callout("horn", ("horn",), Stakes.ASKS)])
    ear.feed(np.ones(BLOCK * 24, np.int16))
    ear.listen([Callout("bell", ("bell",), Stakes.ASKS)])
    assert ear._grammar.callouts[0].key == "horn"
    (verdict,) = ear.feed(np.ones(BLOCK * 20, np.int16))
    assert isinstance(verdict, Accepted)
    assert ear._grammar.callouts[0].key == "bell"


def test_only_an_utterance_in_progress_has_a_state() -> None:
    endpointer = Endpointer(lambda _: 0.0)
    assert not endpointer.pausing
    assert list(endpointer.kept) == []
    with pytest.raises(ValueError, match="no utterance"):
        endpointer.so_far()
