"""Which device a name means, and what is said when there is none or no PortAudio."""

from __future__ import annotations

import ctypes.util
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from voicecheck.audio import devices as room
from voicecheck.audio.devices import Device, find_loudspeaker, find_microphone
from voicecheck.audio.microphone import Microphone
from voicecheck.audio.player import Player
from voicecheck.audio.portaudio import library
from voicecheck.cli import main
from voicecheck.errors import VoicecheckError


def device(number: int, name: str, inputs: int = 1, outputs: int = 0, **more: bool) -> Device:
    known = {"default_input": False, "default_output": False, "preferred": True, **more}
    return Device(number, name, "ALSA", inputs, outputs, 48_000, **known)


@pytest.fixture
def cockpit(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine with several devices, one of them listed by two sound systems."""
    found = [
        device(0, "Panel speaker", inputs=0, outputs=2, default_output=True),
        device(1, "Headset left (USB)"),
        device(2, "Headset right (USB)", default_input=True),
        device(3, "Headset right (USB)", preferred=False),
        device(4, "Headset"),
        device(5, "Intercom 7", outputs=2),
    ]
    monkeypatch.setattr(room, "devices", lambda: found)


@pytest.mark.parametrize(
    ("name", "number"),
    [(None, 2), ("", 2), (1, 1), ("5", 5), ("LEFT", 1), ("right", 2), ("headset", 4), ("com 7", 5)],
)
def test_a_microphone_is_found(cockpit: None, name: str | int | None, number: int) -> None:
    assert find_microphone(name).number == number


def test_loudspeakers_are_looked_for_among_outputs_alone(cockpit: None) -> None:
    assert find_loudspeaker().number == 0
    assert find_loudspeaker("com").number == 5
    with pytest.raises(VoicecheckError, match="no device fits 'left'; name one of: 0 Panel"):
        find_loudspeaker("left")


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("USB", "'USB' fits several devices; name one of: 1 Headset left (USB); 2 Headset right"),
        ("tower", "no device fits 'tower'; name one of: 1 Headset left"),
        (0, "no device fits 0; name one of: 1 Headset left"),
        ("99", "no device fits '99'"),
    ],
)
def test_candidates_are_listed(cockpit: None, name: str | int, told: str) -> None:
    with pytest.raises(VoicecheckError) as caught:
        find_microphone(name)
    assert str(caught.value).startswith(told)


@pytest.fixture
def no_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    """What PortAudio answers on a machine without any device, whatever this machine has."""
    monkeypatch.setattr(library(), "query_devices", lambda: [])


def test_no_device_gives_one_line_with_the_remedy(no_sound: None) -> None:
    with pytest.raises(VoicecheckError, match=r"^no microphone found; .*--from FILE.wav"):
        Microphone()
    with pytest.raises(VoicecheckError, match=r"^no loudspeaker found; .*"):
        Player()


@dataclass(frozen=True)
class Ended:
    status: int
    out: str
    err: str


@pytest.fixture
def command(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Ended]:
    """Run ``voicecheck audio`` as from a shell."""

    def run(*arguments: str) -> Ended:
        monkeypatch.setattr(sys, "argv", ["voicecheck", "audio", *arguments])
        status = 0
        try:
            main()
        except SystemExit as ended:
            status = int(ended.code or 0)
        return Ended(status, *capsys.readouterr())

    return run


@pytest.mark.parametrize("option", ["--check", "--meter"])
def test_the_command_ends_with_status_2_without_a_microphone(
    no_sound: None, command: Callable[..., Ended], option: str
) -> None:
    ended = command(option, "1", "--json")
    assert ended.status == 2
    assert ended.out == ""
    assert ended.err.startswith("voicecheck: no microphone found;")
    assert ended.err.count("\n") == 1


def test_the_command_lists_nothing_where_nothing_is(
    no_sound: None, command: Callable[..., Ended]
) -> None:
    ended = command("--json")
    assert ended.status == 0
    assert json.loads(ended.out) == {"schema": 1, "devices": []}
    assert "no sound devices" in ended.err


@pytest.mark.parametrize("seconds", ["0", "-1", "nan", "inf", "1e9"])
def test_impossible_seconds(command: Callable[..., Ended], seconds: str) -> None:
    ended = command("--meter", seconds)
    assert ended.status == 2
    assert "give more than 0, up to 600 s" in ended.err


def test_two_tests_at_once(command: Callable[..., Ended]) -> None:
    assert "one at a time" in command("--meter", "1", "--check", "1").err


def test_missing_portaudio_is_explained(monkeypatch: pytest.MonkeyPatch) -> None:
    # sounddevice looks for the C library by this function while it is imported.
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(ctypes.util, "find_library", lambda _name: None)
    for use in (library, Microphone, Player):
        with pytest.raises(VoicecheckError, match="apt-get install libportaudio2"):
            use()
