"""What is spoken when: tones, a crew that goes on, a loudspeaker that went and came back."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest
from fleet import loaded

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.prompts import Playback, PlaybackState, PromptQueue
from voicecheck.engine import Engine, effects
from voicecheck.engine.effects import Priority
from voicecheck.engine.events import Began, Heard
from voicecheck.session.ahead import Ahead, foreseen
from voicecheck.session.prompter import Line, Prompter
from voicecheck.voice.process import VoiceUnavailable


class Loudspeaker(SilentPlayer):
    """A player that can be lost, on a clock that the test moves."""

    lost = False  # type: ignore[misc]

    def __init__(self) -> None:
        self.time = 0.0
        super().__init__(lambda: self.time)

    def _catch_up(self) -> float:
        due = min(round((self.time - self._until) * 16_000), self._queue.left())
        if due > 0:
            self._queue.take(due, self._until, unheard=self.lost)
            self._until += due / 16_000
        if not self._queue.left():
            self._until = max(self._until, self.time)
        return self.time


class Words:
    """A voice that says every text in a second."""

    def __init__(self) -> None:
        self.broken = False

    def render(self, text: str) -> np.ndarray:
        if self.broken:
            raise VoiceUnavailable("it broke")
        return np.full(16_000, 9000, np.int16)


class Room:
    def __init__(self, *, tones: bool = True) -> None:
        self.player = Loudspeaker()
        self.voice = Words()
        self.given: list[tuple[Playback, str]] = []
        self.prompter = Prompter(
            self.player, self.voice, 165, tones=tones, kept=lambda p, t: self.given.append((p, t))
        )

    def say(self, text: str, priority: Priority = Priority.ROUTINE) -> None:
        self.prompter.speak([Line(text, priority)])
        self.prompter.poll()

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.02)):
            self.player.time += 0.02
            self.prompter.poll()

    def spoken(self) -> list[tuple[str, str]]:
        return [(text, playback.state.value) for playback, text in self.given]


def test_a_warning_has_its_tone_before_its_words() -> None:
    room = Room()
    room.say("light out", Priority.WARNING)
    room.wait(3)
    (tone, none), (words, text) = room.given
    assert (none, text) == ("", "light out")
    assert tone.end == pytest.approx(words.start)
    assert [span[1] - span[0] for span in [(words.start, words.end)]] == [pytest.approx(1.0)]


def test_a_crew_that_goes_on_cuts_a_routine_line_and_no_other() -> None:
    for priority, state in (
        (Priority.ROUTINE, PlaybackState.CUT),
        (Priority.KEPT, PlaybackState.PLAYED),
        (Priority.WARNING, PlaybackState.PLAYED),
    ):
        room = Room(tones=False)
        room.say("three green", priority)
        room.wait(0.4)
        room.prompter.lapse()
        room.wait(1.5)
        assert room.spoken() == [("three green", state.value)]


def test_who_presses_the_talk_key_is_given_way_and_a_question_comes_back() -> None:
    for priority, states in (
        (Priority.ROUTINE, ["cut"]),
        (Priority.KEPT, ["cut", "played"]),
        (Priority.WARNING, ["played"]),
    ):
        room = Room(tones=False)
        room.say("affirm?", priority)
        room.wait(0.4)
        room.prompter.give_way()
        for _ in range(60):
            room.player.time += 0.02
            room.prompter.poll(crew_speaks=True)
        assert len(room.given) == 1
        room.wait(1.5)
        assert [state for _, state in room.spoken()] == states


def test_a_routine_line_never_cuts_a_warning() -> None:
    room = Room(tones=False)
    room.say("light out", Priority.WARNING)
    room.wait(0.3)
    room.say("three green")
    room.wait(3)
    assert room.spoken() == [("light out", "played"), ("three green", "played")]
    (first, _), (second, _) = room.given
    assert second.start >= first.end  # type: ignore[operator]


def test_what_nobody_could_hear_is_said_again_once() -> None:
    room = Room(tones=False)
    room.player.lost = True
    room.say("affirm?", Priority.KEPT)
    room.say("light out", Priority.WARNING)
    room.say("three green")
    room.wait(5)
    assert room.prompter.loudspeaker_lost
    room.player.lost = False
    room.wait(5)
    again = [text for playback, text in room.given if not playback.unheard]
    assert sorted(again) == ["affirm?", "light out"]


def test_a_machine_that_never_had_a_loudspeaker_repeats_nothing() -> None:
    clock = [0.0]
    prompter = Prompter(SilentPlayer(lambda: clock[0]), Words(), 165)
    assert not prompter.loudspeaker_lost


def test_a_voice_that_breaks_leaves_tones_and_time() -> None:
    room = Room()
    room.voice.broken = True
    room.say("one two three four five", Priority.WARNING)
    room.wait(4)
    assert room.prompter.failed == "it broke"
    (tone, _), (silence, _) = room.given
    assert tone.pcm.any()
    assert not silence.pcm.any()
    assert len(silence.pcm) / 16_000 == pytest.approx(5 * 60 / 165, abs=0.01)


def test_words_that_wait_for_a_tone_are_handed_over_at_once() -> None:
    queue = PromptQueue()
    queue.tone(np.ones(960, np.int16))
    assert queue.audible(0.0)
    assert not queue.speaking(0.0)


def test_looking_ahead_changes_nothing_and_foresees_what_is_said() -> None:
    engine = Engine(loaded("ZZ-HJC").checklist)
    engine.handle(Began(0.0))
    for at in range(1, 60):
        before = (engine.state, engine.phase, engine.wake)
        expected = list(foreseen(engine))
        assert (engine.state, engine.phase, engine.wake) == before
        keys = [key for key in engine.offers() if not key.startswith(("reason", "command:ab"))]
        key = keys[at * 7 % len(keys)]
        made = engine.handle(Heard(key, "", at * 3.0, at * 3.0 + 1, 1.0))
        said = [e for e in made if isinstance(e, effects.Say)]
        assert all(say in expected for say in said), (key, said)
        if engine.phase.value == "finished":
            break
    assert at > 10


def test_only_the_latest_moment_is_looked_ahead_from() -> None:
    asked: list[list[str]] = []
    gate = threading.Event()

    def prepare(texts: object) -> None:
        asked.append(list(texts))  # type: ignore[call-overload]
        gate.wait(5)

    ahead = Ahead(lambda say: (say.prompt,), prepare)
    engine = Engine(loaded("ZZ-HJC").checklist)
    engine.handle(Began(0.0))
    try:
        ahead.look(engine)
        while not asked:
            time.sleep(0.01)
        for _ in range(5):
            ahead.look(engine)
        gate.set()
        time.sleep(0.5)
    finally:
        ahead.close()
    assert len(asked) == 2
