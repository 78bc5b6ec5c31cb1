"""Outside check: human recordings of Debian's pocketsphinx-testdata, with their transcripts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from voicecheck.callouts import Callout, Stakes
from voicecheck.errors import VoicecheckError
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Hearing
from voicecheck.speech.sphinx import SphinxListener

CARDS = Path("/usr/share/pocketsphinx/test/data/cards")
LEXICON = Lexicon({}, ("and",), (), (), ("what time is it", "thank you"))


def transcripts() -> dict[str, str]:
    found = {}
    for line in (CARDS / "cards.transcription").read_text().splitlines():
        text, name = line.rsplit("(", 1)
        found[name.strip(" )")] = " ".join(w for w in text.split() if not w.startswith("<"))
    return found


def test_human_recordings_are_heard_word_for_word() -> None:
    listener = SphinxListener(LEXICON)
    texts = transcripts()
    grammar = Grammar(tuple(Callout(name, (t,), Stakes.ASKS, False) for name, t in texts.items()))
    listener.listen(grammar)
    right = 0
    for name, text in texts.items():
        samples, rate = soundfile.read(CARDS / f"{name}.wav", dtype="int16")
        assert rate == 16000
        hearing = listener.hear(samples)
        right += " ".join(hearing.text) == text
        ends = [word.end for word in hearing.words]
        assert ends == sorted(ends)
        assert all(word.start < word.end <= samples.size / rate for word in hearing.words)
    assert right == len(texts) == 5


def test_a_hearing_depends_on_nothing_that_was_heard_before() -> None:
    texts = transcripts()
    grammar = Grammar(tuple(Callout(name, (t,), Stakes.ASKS, False) for name, t in texts.items()))
    sounds = [soundfile.read(CARDS / f"{name}.wav", dtype="int16")[0] // 8 for name in texts]

    def heard(order: list[int]) -> dict[int, list[Hearing]]:
        listener = SphinxListener(LEXICON)
        listener.listen(grammar)
        found: dict[int, list[Hearing]] = {}
        for number in order:
            hiss = np.random.default_rng(number).normal(0, 300 * number, sounds[number].size)
            noisy = np.clip(sounds[number] + hiss, -32768, 32767).astype(np.int16)
            found.setdefault(number, []).append(listener.prove(listener.hear(noisy)))
        return found

    once = heard([0, 1, 2, 3, 4])
    again = heard([4, 4, 3, 1, 2, 2, 0, 1])
    assert all(hearing == once[number][0] for number, all_ in again.items() for hearing in all_)


def test_a_second_look_leaves_the_noise_in(monkeypatch: pytest.MonkeyPatch) -> None:
    listener = SphinxListener(LEXICON)
    texts = transcripts()
    listener.listen(
        Grammar(tuple(Callout(name, (t,), Stakes.ASKS, False) for name, t in texts.items()))
    )
    quieter = []

    def muted(samples: NDArray[np.int16]) -> NDArray[np.int16]:
        quieter.append(samples.size)
        return np.zeros_like(samples)

    monkeypatch.setattr("voicecheck.speech.sphinx.denoise", muted)
    for name, text in texts.items():
        samples, _ = soundfile.read(CARDS / f"{name}.wav", dtype="int16")
        assert " ".join(listener.hear(samples).text) != text
        assert " ".join(listener.look_again(samples).text) == text
    assert len(quieter) == len(texts)


def test_a_word_without_a_sound_is_told_with_the_remedy() -> None:
    grammar = Grammar((Callout("x", ("zorbligated horn",), Stakes.ASKS, False),))
    with pytest.raises(VoicecheckError, match="no pronunciation for zorbligated"):
        SphinxListener(LEXICON).listen(grammar)


def test_a_taught_word_can_be_listened_for() -> None:
    lexicon = Lexicon({"zorbligated": ("Z AO R B L IH G EY T IH D",)}, (), (), (), ())
    listener = SphinxListener(lexicon)
    listener.listen(Grammar((Callout("x", ("zorbligated horn",), Stakes.ASKS, False),)))
    assert listener.hear(np.zeros(16000, np.int16)).text in {(), ("zorbligated", "horn")}


def test_a_sound_that_is_none_is_told() -> None:
    with pytest.raises(VoicecheckError, match="ARPAbet"):
        SphinxListener(Lexicon({"horn": ("H Ø RN",)}, (), (), (), ()))
