"""The arithmetic of the comparison, on answers that are written down by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from fleet import loaded

from voicecheck.errors import VoicecheckError
from voicecheck.measure.manifest import Line
from voicecheck.measure.offered import states_of
from voicecheck.measure.peers import NEVER, Answer, BareGrammar, Given, median_ms
from voicecheck.measure.peers_table import draw, peers_table
from voicecheck.measure.trial import Task
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.grammar import Grammar
from voicecheck.world.synthesis import Talker


def task(said: str) -> Task:
    line = Line(
        audio="x", checklist="tarn-40", airframe="ZZ-HAA", state="between", said=None, noise="clean"
    )
    state = states_of(loaded("ZZ-HAA").checklist)[0]
    return Task(1, line, Path("x"), loaded("ZZ-HAA"), state, tuple(said.split()), "")


ANSWERS = (
    (task("a"), Answer(("a",), 0.9, 0.2)),
    (task("a"), Answer(("a",), 0.5, 0.4)),
    (task("a"), Answer(("b",), 0.7)),
    (task("a"), Answer((), NEVER)),
    (task(""), Answer(("b",), 0.6)),
    (task(""), Answer(("b",), NEVER)),
)
GIVEN = Given("hand-made", 0.55, ANSWERS)


def test_right_and_false_from_a_score_on() -> None:
    assert GIVEN.right(0.55) == (1, 4)
    assert GIVEN.false(0.55) == (2, 6)
    assert GIVEN.right(0.0) == (2, 4)
    assert GIVEN.false(0.95) == (0, 6)
    assert GIVEN.curve() == ((0.0, 0.25), (1 / 6, 0.25), (2 / 6, 0.25), (2 / 6, 0.5))
    assert median_ms(ANSWERS) == pytest.approx(300.0)
    assert median_ms(ANSWERS[2:]) is None


def test_the_table_and_the_picture(tmp_path: Path) -> None:
    (row,) = peers_table([GIVEN]).as_json()["rows"]
    assert row["right, % (95 %)"].startswith("25.0 ")
    assert row["acted on wrongly, % (95 %)"].startswith("33.3 ")
    assert row["right at 1 % false, %"] == 25.0
    draw([GIVEN], tmp_path / "curve.png")
    assert (tmp_path / "curve.png").read_bytes().startswith(b"\x89PNG")
    with pytest.raises(VoicecheckError, match="cannot be written"):
        draw([GIVEN], tmp_path / "no" / "curve.png")


def test_the_bare_grammar_takes_its_first_result() -> None:
    language = loaded("ZZ-HAA").language
    state = next(s for s in states_of(loaded("ZZ-HAA").checklist) if s.name == "at gear")
    sound = np.pad(Talker("flite", "slt").say("three green"), 6000)
    utterance = Utterance(sound, 0.0, 0.4, 1.2, 1.6, whole=True, voiced=True)
    peer = BareGrammar(dict(language.speech.pronunciations))
    answer = peer.hear(utterance, Grammar(state.callouts, language.speech.joiners))
    assert answer.keys
    assert answer.score == 0.0
    assert answer.seconds > 0
