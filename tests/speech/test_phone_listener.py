"""The listener that writes phones: real sound, rows against a search by hand, broken weights."""

from __future__ import annotations

import itertools
import shutil
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from voicecheck.callouts import Callout, Stakes
from voicecheck.errors import VoicecheckError
from voicecheck.language import load_language
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.shipped import grammars_dir
from voicecheck.speech import ctc, phone_weights
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.opening import open_phones
from voicecheck.speech.phone_listener import PhoneListener
from voicecheck.speech.phone_ways import Pronouncing
from voicecheck.speech.rows import Piece, Rows
from voicecheck.world.synthesis import Talker

RATE = 16000
TALKER = Talker("espeak-ng", "en-us+f3")
"""One of the voices that the listener was never trained with."""
CALLOUTS = (
    Callout("greens:3", ("three green",), Stakes.CLOSES_GOOD, True),
    Callout("greens:2", ("two green",), Stakes.RECORDS_BAD, True),
    Callout("reds:1", ("one red",), Stakes.RECORDS_BAD, True),
    Callout("horn:good", ("horn sounding",), Stakes.CLOSES_GOOD, True),
    Callout("horn:bad", ("no horn",), Stakes.RECORDS_BAD, True),
    Callout("command:correction", ("correction",), Stakes.ADVANCES, False),
    Callout("command:affirm", ("affirm",), Stakes.ADVANCES, False),
)
GRAMMAR = Grammar(CALLOUTS, ("and",))


@pytest.fixture(scope="module")
def listener() -> PhoneListener:
    opened = open_phones(lexicon_of(load_language(grammars_dir() / "en")))
    opened.listen(GRAMMAR)
    return opened


def _said(text: str) -> NDArray[np.int16]:
    quiet = np.zeros(5600, np.int16)
    return np.concatenate([quiet, TALKER.say(text), quiet])


@pytest.mark.parametrize(
    "text",
    [
        "three green",
        "affirm",
        "three green and one red",
        "two green one red and horn sounding",
        "correction two green",
    ],
)
def test_callouts_and_rows_fit_best(listener: PhoneListener, text: str) -> None:
    fit = listener.fit(listener.frames(_said(text)))
    assert fit is not None
    assert fit.text == text
    assert fit.least_lead > 3
    assert fit.worst > -3
    assert [word.text for word in fit.words] == text.split()
    assert all(one.end <= other.start + 0.013 for one, other in itertools.pairwise(fit.words))


def test_what_is_no_callout_does_not_fit(listener: PhoneListener) -> None:
    fit = listener.fit(listener.frames(_said("did you have breakfast on the way to work")))
    assert fit is not None
    assert fit.worst < -5


def test_words_stand_where_they_were_said(listener: PhoneListener) -> None:
    apart = np.zeros(RATE // 2, np.int16)
    first, second = TALKER.say("three green"), TALKER.say("one red")
    sound = np.concatenate([np.zeros(5600, np.int16), first, apart, second, apart])
    fit = listener.fit(listener.frames(sound))
    assert fit is not None
    assert fit.text == "three green one red"
    begins = (5600 + first.size + apart.size) / RATE
    # In the pause, but not half way, at the earliest; within its first phone at the latest.
    assert begins - 0.15 < fit.words[2].start < begins + 0.1


def test_silence_is_nobody(listener: PhoneListener) -> None:
    fit = listener.fit(listener.frames(np.zeros(RATE, np.int16)))
    assert fit is None or fit.worst < -5


def test_a_word_without_a_sound_leaves_it_to_the_others(listener: PhoneListener) -> None:
    strange = Callout("strange", ("qqzzyx lit",), Stakes.RECORDS_BAD)
    listener.listen(Grammar((*CALLOUTS, strange), ("and",)))
    try:
        assert listener.fit(listener.frames(_said("three green"))) is None
    finally:
        listener.listen(GRAMMAR)


def _by_hand(frames: ctc.Floats, pieces: list[Piece], most: int) -> str:
    """The row whose likeliest path is likeliest, of all rows of so many pieces."""
    best: dict[str, float] = {}
    for count in range(1, most + 1):
        for row in itertools.product(pieces, repeat=count):
            way = tuple(label for piece in row for label in piece.way)
            if row[0].first and row[-1].last and len(way) <= len(frames):
                total = float(ctc.align(frames, way).phones.sum())
                text = " ".join(piece.text for piece in row)
                best[text] = max(total, best.get(text, total))
    return max(best, key=lambda text: best[text])


@pytest.mark.parametrize("seed", range(8))
def test_the_row_found_is_the_likeliest(seed: int) -> None:
    chance = np.random.default_rng(seed)
    scores = chance.normal(size=(8, 6)) * 3
    frames = np.asarray(scores - np.log(np.exp(scores).sum(1, keepdims=True)))
    pieces = [
        Piece("a", (1, 2), True, True),
        Piece("b", (3, 2), True, True),
        Piece("and", (4, 5), False, False),
    ]
    assert Rows(pieces).best(frames) == _by_hand(frames, pieces, 4)


def test_one_phone_for_two_at_the_edge_of_words() -> None:
    pronouncing = Pronouncing({"flaps": ("F L AE P S",), "set": ("S EH T",)}, {})
    ways = pronouncing.ways("flaps set")
    assert [len(way) for way in ways] == [8, 7]
    assert pronouncing.owners("flaps set", ways[1]) == (0, 0, 0, 0, 0, 1, 1)


def test_other_weights_are_refused(tmp_path: Path) -> None:
    assert phone_weights.whole()
    for part in phone_weights.MODELS.glob(f"{phone_weights.NAME}.*"):
        shutil.copyfile(part, tmp_path / part.name)
    with (tmp_path / f"{phone_weights.NAME}.1").open("r+b") as file:
        file.write(b"spoilt")
    with pytest.raises(VoicecheckError, match=r"not the weights .*--no-own-listener"):
        phone_weights.whole(tmp_path)
    with pytest.raises(VoicecheckError, match="install voicecheck again"):
        phone_weights.whole(tmp_path / "nowhere")
