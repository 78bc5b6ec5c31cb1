"""Settings: remembered, merged, and refused with their place."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicecheck.cli.sound import Cockpit, Keeping, Prompts
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.session.settings import (
    SETTINGS_VARIABLE,
    Settings,
    load_settings,
    remember,
    settings_file,
)

WAV = Path("crew.wav")


def settings(**wanted: object) -> Settings:
    return Settings.model_validate(wanted)


def test_without_a_file_it_is_an_open_speaker_and_nothing_is_recorded(tmp_path: Path) -> None:
    found = load_settings(tmp_path / "none.yaml")
    assert (found.cockpit, found.record, found.microphone) == ("speaker", False, None)


def test_what_is_remembered_is_found_again_and_the_rest_is_kept(tmp_path: Path) -> None:
    file = tmp_path / "deep" / "settings.yaml"
    remember(file, microphone="Headset right: USB", rate=140)
    remember(file, cockpit="headset")
    found = load_settings(file)
    assert (found.microphone, found.rate, found.cockpit) == ("Headset right: USB", 140, "headset")
    assert "volume" not in file.read_text("utf-8")


def test_the_environment_names_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SETTINGS_VARIABLE, str(tmp_path / "mine.yaml"))
    assert settings_file() == tmp_path / "mine.yaml"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("schema: 1\ncockpit: tent\n", 2),
        ("schema: 1\nrate: 165\nvolume: 2\n", 3),
        ("schema: 1\nmikrophone: x\n", 2),
        ("schema: 9\n", 1),
    ],
)
def test_a_wrong_setting_is_told_with_its_line(tmp_path: Path, text: str, line: int) -> None:
    file = tmp_path / "settings.yaml"
    file.write_text(text)
    with pytest.raises(InputError) as caught:
        load_settings(file)
    assert str(caught.value).startswith(f"{file}:{line}:")


def test_settings_that_cannot_be_kept_are_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(VoicecheckError, match=SETTINGS_VARIABLE):
        remember(tmp_path / "file" / "settings.yaml", rate=140)


def test_the_command_line_goes_before_settings() -> None:
    kept = settings(cockpit="headset", channels=2, rate=140, wording="terse", tones=False)
    cockpit = Cockpit().options(kept)
    assert (cockpit.headset, cockpit.channels) == (True, 2)
    cockpit = Cockpit(headset=False, channels=1).options(kept)
    assert (cockpit.headset, cockpit.channels) == (False, 1)
    voice = Prompts().options(kept, None)
    assert (voice.rate, voice.wording, voice.tones) == (140, "terse", False)
    voice = Prompts(rate=200, terse=False, tones=True).options(kept, None)
    assert (voice.rate, voice.wording, voice.tones) == (200, "full", True)


def test_a_recording_does_not_follow_the_cockpits_settings() -> None:
    kept = settings(channels=2, talk_key=True, record=True)
    cockpit = Cockpit(from_=WAV).options(kept)
    assert (cockpit.channels, cockpit.talk_key, cockpit.keys) == (1, False, False)
    assert Keeping().options(kept, Path("log"), live=False) is None


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (Cockpit(keys=True, from_=WAV), "go with a live session"),
        (Cockpit(talk_key=True, from_=WAV), "go with a live session"),
        (Cockpit(deaf=True, keys=False), "--deaf leaves only the keys"),
        (Cockpit(talk_key=True, keys=False), "--talk-key needs the keys"),
    ],
)
def test_what_excludes_itself_is_told(asked: Cockpit, told: str) -> None:
    with pytest.raises(VoicecheckError, match=told):
        asked.options(settings())


def test_recording_needs_consent_and_goes_beside_the_log() -> None:
    log = Path("state") / "log"

    def chosen(kept: Settings, record: bool | None, folder: Path | None = None) -> object:
        found = Keeping(record, folder).options(kept, log, live=True)
        return None if found is None else (found.folder, found.keep_days)

    beside = Path("state").absolute() / "recordings"
    assert chosen(settings(), None) is None
    assert chosen(settings(), True) == (beside, 30)
    assert chosen(settings(record=True, keep_days=7), None) == (beside, 7)
    assert chosen(settings(record=True), False) is None
    assert chosen(settings(recordings="kept"), True) == (Path("kept"), 30)
    assert chosen(settings(recordings="kept"), True, Path("there")) == (Path("there"), 30)
    with pytest.raises(VoicecheckError, match="--record goes with a live session"):
        Keeping(True).options(settings(), log, live=False)
