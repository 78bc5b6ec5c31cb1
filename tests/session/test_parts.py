"""What is opened when something is missing, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from fleet import loaded

from voicecheck.audio import devices as device_room
from voicecheck.audio.devices import Device
from voicecheck.audio.pace import Pace
from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.source import BLOCK, Block
from voicecheck.engine import Engine
from voicecheck.errors import VoicecheckError
from voicecheck.session import parts as parts_room
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Quiet
from voicecheck.session.equipment import Equipment
from voicecheck.session.keyboard import LIST, TALK
from voicecheck.session.options import CockpitOptions, VoiceOptions
from voicecheck.session.parts import hears, open_source, open_voice
from voicecheck.session.prompter import Prompter
from voicecheck.session.shutter import Shutter, TalkKey
from voicecheck.speech.verdict import Verdict

KEYS = CockpitOptions(keys=True)


def machine(monkeypatch: pytest.MonkeyPatch, *found: Device) -> None:
    for room in (device_room, parts_room):
        monkeypatch.setattr(room, "devices", lambda: list(found))


MONO = Device(0, "Boom microphone", "ALSA", 1, 0, 48_000, True, False, True)


def test_without_any_microphone_the_keys_are_left_and_that_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    machine(monkeypatch)
    told: list[str] = []
    source = open_source(None, "Boom", KEYS, told.append)
    assert isinstance(source, Pace)
    assert not hears(source)
    (notice,) = told
    assert notice.startswith("deaf: no microphone found")
    with pytest.raises(VoicecheckError, match="no microphone found"):
        open_source(None, None, CockpitOptions(), told.append)


@pytest.mark.parametrize(
    ("name", "cockpit", "words"),
    [
        ("Bom", KEYS, "no device fits 'Bom'"),
        (None, CockpitOptions(keys=True, channels=2), "two are needed for pilot and second"),
    ],
)
def test_a_wish_that_cannot_be_met_is_no_reason_to_go_deaf(
    monkeypatch: pytest.MonkeyPatch, name: str | None, cockpit: CockpitOptions, words: str
) -> None:
    machine(monkeypatch, MONO)
    with pytest.raises(VoicecheckError, match=words):
        open_source(None, name, cockpit, lambda _: None)


def test_a_mute_machine_says_what_is_left(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    machine(monkeypatch)
    voice = open_voice(VoiceOptions(voice="no-such-voice"), tmp_path, StreamClock(), live=True)
    try:
        first, second = voice.notices
        assert first.startswith("mute: no voice")
        assert second.startswith("mute: no loudspeaker")
        assert voice.speaker is None
    finally:
        voice.close()


def test_silence_keeps_the_pace_of_the_clock() -> None:
    source = Pace()
    blocks = source.blocks()
    for _ in range(10):
        next(blocks)
    assert 9 * 0.02 <= source.now() < 2
    source.stop()
    assert len(list(blocks)) <= 1


class Ear:
    """Keeps what reaches it."""

    speaking_since = None

    def __init__(self) -> None:
        self.loud: list[bool] = []

    def listen(self, callouts: object) -> None:
        pass

    def feed(self, samples: np.ndarray) -> list[Verdict]:
        self.loud.append(bool(samples.any()))
        return []

    def finish(self) -> list[Verdict]:
        return []


class Screen(Quiet):
    def __init__(self) -> None:
        self.notices: list[str] = []

    def notice(self, text: str) -> None:
        self.notices.append(text)


class NoRecord:
    refused = False

    def write(self, kind: object, fields: object, at: float) -> None:
        pass


def conductor(ear: Ear, screen: Screen, shutter: Shutter) -> Conductor:
    clock = StreamClock()
    language = loaded("ZZ-HJC").language
    prompter = Prompter(SilentPlayer(clock), None, 165)
    made = Conductor(
        Engine(loaded("ZZ-HJC").checklist),
        Equipment(language, prompter, [ear], shutter, keys=True),
        NoRecord(),
        screen,
        lambda summary, _: summary,
    )
    clock.start(lambda: made.now)
    made.begin()
    return made


def test_the_talk_key_lets_the_crew_through_and_shuts_again() -> None:
    ear, screen = Ear(), Screen()
    session = conductor(ear, screen, Shutter(talk_key=TalkKey()))
    loud = Block(np.full(BLOCK, 900, np.int16))
    heard = []
    for pressed in (False, True, False):
        if pressed or heard:
            session.typed(TALK)
        for _ in range(50):
            session.take(loud)
        heard.append(ear.loud[-50:])
    assert not any(heard[0])
    assert all(heard[1])
    # Let go: the microphone stays open for the end of a word, 0.4 s or 20 blocks.
    assert heard[2] == [True] * 20 + [False] * 30
    assert [n for n in screen.notices if "listening" in n] == ["listening", "not listening"]


def test_a_talk_key_that_is_not_in_use_is_explained() -> None:
    screen = Screen()
    session = conductor(Ear(), screen, Shutter())
    session.typed(TALK)
    assert "no talk key in this session" in screen.notices[-1]
    session.typed(LIST)
    assert screen.notices[-1].startswith("keys: 1 ")


def test_a_yes_that_was_typed_to_another_question_is_not_taken() -> None:
    screen = Screen()
    session = conductor(Ear(), screen, Shutter())
    silence = Block(np.zeros(BLOCK, np.int16))
    for _ in range(100):
        session.take(silence)
    session.typed("battery on")
    session.typed("affirm", age=1.0)
    assert "the question has changed" in screen.notices[-1]
    assert session._engine.state.power["battery"] is None
    session.typed("affirm", age=0.0)
    assert session._engine.state.power["battery"] == "on"
