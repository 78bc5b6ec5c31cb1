"""From sound to verdict, on speech made by espeak-ng: nothing is faked on the way."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
import yaml
from numpy.typing import NDArray

from voicecheck.callouts import Callout, Stakes
from voicecheck.errors import VoicecheckError
from voicecheck.speech import Lexicon, open_ear
from voicecheck.speech.ear import LATER, Ear
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.listener import Hearing, Scores, Word
from voicecheck.speech.opening import new_endpointer
from voicecheck.speech.verdict import Accepted, Ignored, Unclear, Verdict
from voicecheck.world.synthesis import Talker

SPEECH = Path(__file__).parents[2] / "grammars" / "en" / "speech.yaml"
RATE = 16000


def lexicon() -> Lexicon:
    data = yaml.safe_load(SPEECH.read_text(encoding="utf-8"))
    return Lexicon(
        {word: tuple(sounds) for word, sounds in data["pronunciations"].items()},
        tuple(data["joiners"]),
        tuple(tuple(group) for group in data["swaps"]),
        tuple(data["negations"]),
        tuple(data["chatter"]),
    )


CALLOUTS = (
    Callout("greens:3", ("three green",), Stakes.CLOSES_GOOD, True),
    Callout("greens:2", ("two green",), Stakes.RECORDS_BAD, True),
    Callout("reds:1", ("one red",), Stakes.RECORDS_BAD, True),
    Callout("horn:good", ("horn sounding",), Stakes.CLOSES_GOOD, True),
    Callout("horn:bad", ("no horn",), Stakes.RECORDS_BAD, True),
    Callout("power:battery:on", ("battery on",), Stakes.ADVANCES, True),
    Callout("power:battery:off", ("battery off",), Stakes.ADVANCES, True),
    Callout("command:correction", ("correction",), Stakes.ADVANCES, False),
    Callout("command:say-again", ("say again",), Stakes.ASKS, False),
)


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> NDArray[np.int16]:
    """Five utterances and a sentence of chatter, 1.2 s apart, over a little noise."""
    folder = tmp_path_factory.mktemp("sound")
    texts = [
        "three green",
        "three green, one red and horn sounding",
        "correction two green",
        "did you have breakfast on the way to work",
        "say again",
        "no horn",
    ]
    gap = np.zeros(int(1.2 * RATE))
    pieces = [gap]
    for number, text in enumerate(texts):
        path = folder / f"{number}.wav"
        command = ["espeak-ng", "-v", "en-gb", "-s", "150", "-w", str(path), text]
        subprocess.run(command, check=True, timeout=30)
        sound, rate = soundfile.read(path)
        pieces += [soxr.resample(sound, rate, RATE) * 12000, gap]
    whole = np.concatenate(pieces)
    whole += np.random.default_rng(3).standard_normal(whole.size) * 20
    return np.clip(whole, -32768, 32767).astype(np.int16)


def heard(verdicts: Iterable[Verdict]) -> list[list[str]]:
    return [[s.callout for s in v.spoken] for v in verdicts if isinstance(v, Accepted)]


def run(sound: NDArray[np.int16], block: int, second: str, cache: Path) -> list[Verdict]:
    ear = open_ear(lexicon(), second=second, cache=cache).ear
    ear.listen(CALLOUTS)
    verdicts: list[Verdict] = []
    for at in range(0, sound.size, block):
        verdicts += ear.feed(sound[at : at + block])
    assert ear.now == pytest.approx(sound.size / RATE)
    return verdicts + ear.finish()


@pytest.fixture(scope="module")
def verdicts(spoken: NDArray[np.int16], cache: Path) -> list[Verdict]:
    return run(spoken, 1600, "auto", cache)


SAID = [
    ["greens:3"],
    ["greens:3", "reds:1", "horn:good"],
    ["command:correction", "greens:2"],
    ["command:say-again"],
    ["horn:bad"],
]


def test_callouts_are_heard_and_chatter_is_not(verdicts: list[Verdict]) -> None:
    acted = heard(verdicts)
    assert all(keys in SAID for keys in acted)
    assert ["greens:3"] in acted
    assert ["command:correction", "greens:2"] in acted
    guessed = [[s.callout for s in v.guess] for v in verdicts if isinstance(v, Unclear)]
    assert all(keys in SAID for keys in guessed)
    assert all(keys in acted or keys in guessed for keys in SAID)
    assert any(isinstance(v, Ignored) for v in verdicts)


def test_the_size_of_the_blocks_changes_nothing(
    verdicts: list[Verdict], spoken: NDArray[np.int16], cache: Path
) -> None:
    assert run(spoken, 333, "auto", cache) == verdicts


def test_one_listener_alone_asks_where_two_would_act(
    spoken: NDArray[np.int16], cache: Path
) -> None:
    ear = open_ear(lexicon(), second="off", cache=cache, phones=False).ear
    ear.listen(CALLOUTS)
    alone = ear.feed(spoken) + ear.finish()
    assert all(keys in SAID for keys in heard(alone))
    asked = [v for v in alone if isinstance(v, Unclear)]
    assert any("one listener alone" in v.reason for v in asked)
    # Of a row it is never sure.
    assert all(len(keys) == 1 or keys[0].startswith("command:") for keys in heard(alone))


def test_times_are_those_of_the_words(verdicts: list[Verdict]) -> None:
    first = verdicts[0]
    assert isinstance(first, Accepted)
    assert 1.0 < first.start < 1.45
    assert first.spoken[0].start == first.start
    assert first.start < first.end < first.decided
    assert first.decided - first.end < 0.7
    second = verdicts[1]
    assert not isinstance(second, Ignored)
    parts = second.spoken if isinstance(second, Accepted) else second.guess
    assert len(parts) == 3
    edges = [edge for part in parts for edge in (part.start, part.end)]
    assert edges == sorted(edges)


def test_other_callouts_hold_from_the_next_utterance_on(
    spoken: NDArray[np.int16], cache: Path
) -> None:
    ear = open_ear(lexicon(), second="auto", cache=cache).ear
    ear.listen(CALLOUTS)
    verdicts: list[Verdict] = []
    changed = False
    for at in range(0, spoken.size, 512):
        verdicts += ear.feed(spoken[at : at + 512])
        if ear.speaking_since is not None and not changed:
            changed = True
            ear.listen(tuple(c for c in CALLOUTS if c.key != "reds:1"))
    assert heard(verdicts)[0] == ["greens:3"]
    assert ["greens:3", "reds:1", "horn:good"] not in heard(verdicts)


def test_silence_and_noise_say_nothing(cache: Path) -> None:
    noise = (np.random.default_rng(1).standard_normal(RATE * 4) * 2000).astype(np.int16)
    for sound in (np.zeros(RATE * 2, np.int16), noise):
        assert not any(isinstance(v, Accepted | Unclear) for v in run(sound, 1600, "auto", cache))


def test_two_channels_share_one_model(cache: Path) -> None:
    first = open_ear(lexicon(), cache=cache)
    second = open_ear(lexicon(), cache=cache)
    assert first.listeners == second.listeners
    assert len(first.listeners) == 3
    assert first.notices == ()
    assert first.ear._scorer is second.ear._scorer


def test_one_listener_is_announced(cache: Path) -> None:
    opened = open_ear(lexicon(), second="off", cache=cache, phones=False)
    assert opened.listeners == ("pocketsphinx",)
    assert "one listener only" in opened.notices[0]


def test_a_plain_install_hears_with_two(cache: Path) -> None:
    opened = open_ear(lexicon(), second="off", cache=cache)
    assert opened.listeners == ("listener-1", "pocketsphinx")
    assert opened.notices == ()


@pytest.mark.parametrize(
    ("listener", "second", "message"),
    [
        ("vosk", "off", "needs a model folder"),
        ("siren", "off", "use pocketsphinx or vosk"),
        ("pocketsphinx", "nowhere", r"no model\.bin"),
    ],
)
def test_what_cannot_be_opened_is_told(
    listener: str, second: str, message: str, cache: Path
) -> None:
    with pytest.raises(VoicecheckError, match=message):
        open_ear(lexicon(), listener=listener, second=second, cache=cache)


class _Wavering:
    """Hears one thing, and another in the same sound at half the level."""

    name = "wavering"

    def __init__(self, first: str, second: str) -> None:
        self._texts = (first, second)
        self._loudest = 0
        self.looks = 0

    def missing(self, words: Iterable[str]) -> tuple[str, ...]:
        return ()

    def listen(self, grammar: Grammar) -> None:
        pass

    def hear(self, samples: NDArray[np.int16]) -> Hearing:
        self.looks += 1
        loudest = int(np.abs(samples).max())
        second = loudest < 0.6 * self._loudest
        self._loudest = max(self._loudest, loudest)
        words = self._texts[second].split()
        spoken = tuple(Word(word, 0.4 + 0.3 * n, 0.7 + 0.3 * n) for n, word in enumerate(words))
        return Hearing(spoken, tuple(words), proves=True, proof=tuple(words))


class _Sure:
    """A scorer that is sure of one text."""

    name = "sure"

    def __init__(self, text: str) -> None:
        self._text = text

    def score(self, samples: NDArray[np.int16], propose: Callable[[str], Sequence[str]]) -> Scores:
        texts = dict.fromkeys((self._text, *propose(self._text)))
        scores = {text: -0.1 if text == self._text else -6.0 for text in texts}
        zero = {text: 10 * (score + 0.1) for text, score in scores.items()}
        return Scores(
            scores, dict.fromkeys(texts, 4), self._text, worst=scores, regret=zero, kind="moonshine"
        )


@pytest.mark.parametrize(
    ("first", "second", "acted", "looks"),
    [
        ("no horn", "horn sounding", True, 2),
        ("horn sounding", "no horn", True, 1),  # who agrees is not asked again
        ("no horn", "no horn", False, 2),
        ("no horn", "three green", False, 2),
    ],
)
def test_a_listener_that_differs_is_asked_to_look_again(
    first: str, second: str, acted: bool, looks: int
) -> None:
    rng = np.random.default_rng(2)
    sound = rng.normal(0, 20, 3 * RATE)
    voice = voice_sound()
    sound[RATE : RATE + voice.size] += voice
    listener = _Wavering(first, second)
    words = lexicon()
    ear = Ear(new_endpointer(), listener, _Sure("horn sounding"), words, {})
    ear.listen(CALLOUTS)
    verdicts = ear.feed(np.clip(sound, -32768, 32767).astype(np.int16)) + ear.finish()
    assert listener.looks == looks
    assert heard(verdicts) == ([["horn:good"]] if acted else [])
    assert ear.last is not None
    assert ear.last.hearing is not None
    if acted and looks == 2:
        assert ear.last.hearing.first is not None
        assert ear.last.hearing.first.text == tuple(first.split())
        assert ear.last.hearing.words[0].start == pytest.approx(0.4 - LATER)
    else:
        assert ear.last.hearing.first is None
        assert ear.last.hearing.text == tuple(first.split())
    if not acted:
        assert any(isinstance(v, Unclear) and "only one listener" in v.reason for v in verdicts)


def voice_sound() -> NDArray[np.float64]:
    """0.9 s of a voice."""
    sound = Talker("espeak-ng", "en-gb").say("horn sounding").astype(np.float64)
    return sound[: int(0.9 * RATE)]


class _Broken:
    """A scorer whose native code fails."""

    name = "broken"

    def score(self, samples: NDArray[np.int16], propose: object) -> Scores:
        raise RuntimeError("bad\nallocation")


def test_a_scorer_that_breaks_down_leaves_one_listener(
    spoken: NDArray[np.int16], cache: Path
) -> None:
    alone = open_ear(lexicon(), second="off", cache=cache).ear
    broken = open_ear(lexicon(), second="off", cache=cache).ear
    broken._scorer = _Broken()
    for ear in (alone, broken):
        ear.listen(CALLOUTS)
    assert broken.failed is None
    assert list(broken.feed(spoken)) == list(alone.feed(spoken))
    assert broken.failed == "bad allocation"


def test_a_mistake_of_our_own_is_not_taken_for_the_scorers(
    spoken: NDArray[np.int16], cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ear = open_ear(lexicon(), cache=cache).ear
    ear.listen(CALLOUTS)

    def mistaken(*_: object) -> None:
        raise KeyError("ours")

    monkeypatch.setattr("voicecheck.speech.ear.shortlist", mistaken)
    with pytest.raises(KeyError, match="ours"):
        ear.feed(spoken)
    assert ear.failed is None
