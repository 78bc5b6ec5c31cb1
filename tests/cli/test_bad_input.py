"""Bad input at the command line: one line, exit status 2, no traceback, nothing lost."""

from __future__ import annotations

import json
import shutil
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from command import call, refused

from voicecheck.caution import CAUTION
from voicecheck.errors import VoicecheckError
from voicecheck.shipped import checklists_dir, recordings_dir

RUN = ("run", "skerry-j2", "--airframe", "ZZ-HJC", "--second-listener", "off")
AT = ("--recorded-at", "2026-01-05")


@pytest.fixture
def speech() -> np.ndarray:
    samples, _ = soundfile.read(recordings_dir() / "three-findings.wav", dtype="int16")
    return np.asarray(samples[: 16000 * 22])


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "log"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("run", "nowhere.yaml", "--airframe", "ZZ-HJC"), "no such file"),
        (("run", "skerry-j2", "--airframe", "ZZ-NIL"), "unknown registration"),
        (("run", "skerry-j2"), "no airframe is named; add --airframe with one of ZZ-HJA, ZZ-HJB"),
        (("run", "skerry-j3", "--airframe", "ZZ-HJC"), "did you mean 'skerry-j2'"),
        ((*RUN, "--from", "none.wav"), "none.wav"),
        ((*RUN, "--from", "a.wav", "--microphone", "x"), "two sources"),
        ((*RUN, "--mixdown", "a.wav"), "--mixdown goes with --from"),
        ((*RUN, "--from", "a.wav", "--mixdown", "no/m.wav"), "make it first"),
        ((*RUN, "--recordings", "there"), "--recordings goes with --record"),
        (("resume", "--from", "a.wav", "--microphone", "x"), "two sources"),
        (("rehearse", "skerry-j2", "--from", "a.wav"), "go with --as pilot or second"),
        (("measure", "states", "--airframe", "ZZ-NIL"), "name its type"),
        ((*RUN, "--listener", "tin-can"), "choose pocketsphinx or vosk"),
        ((*RUN, "--listener", "vosk"), "needs --model"),
        ((*RUN, "--listener", "vosk", "--model", "none"), "none"),
        (("replay", "none.jsonl"), "none.jsonl"),
        (("resume", "latest", "--log", "none"), "no session"),
        (("validate",), "name a checklist"),
        (("validate", "skerry-j3"), "did you mean 'skerry-j2'"),
        (("validate", "--schema", "lamp"), "choose type or airframe"),
    ],
)
def test_usage(
    arguments: tuple[str, ...],
    words: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    if "--model" in arguments or "vosk" in arguments:
        wav = tmp_path / "s.wav"
        soundfile.write(wav, np.zeros(1600, np.int16), 16000)
        arguments = (*arguments, "--from", str(wav), *AT)
    monkeypatch.chdir(tmp_path)
    assert words in refused(*arguments, capsys=capsys)


def test_a_broken_vosk_model_folder(
    tmp_path: Path, speech: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    model = tmp_path / "model"
    (model / "am").mkdir(parents=True)
    (model / "am" / "final.mdl").write_bytes(b"not a model")
    wav = tmp_path / "s.wav"
    soundfile.write(wav, speech, 16000)
    line = refused(*RUN, "--listener", "vosk", "--model", model, "--from", wav, *AT, capsys=capsys)
    assert "not a usable Vosk model" in line


def test_a_broken_second_listener_folder(
    tmp_path: Path, speech: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "model.bin").write_bytes(b"x")
    wav = tmp_path / "s.wav"
    soundfile.write(wav, speech, 16000)
    arguments = ("run", "skerry-j2", "--airframe", "ZZ-HJC", "--second-listener", tmp_path)
    assert str(tmp_path) in refused(*arguments, "--from", wav, *AT, capsys=capsys)


def test_sound_that_is_none(tmp_path: Path, log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = tmp_path / "good.wav"
    soundfile.write(good, np.zeros(16000, np.int16), 16000)
    whole = good.read_bytes()
    cases = {
        "empty.wav": b"",
        "headless.wav": whole[44:],
        "truncated.wav": whole[: len(whole) // 2],
        "text.wav": b"this is no sound at all, it is text\n" * 9,
        "no-samples.wav": whole[:40] + struct.pack("<I", 0),
    }
    for name, content in cases.items():
        path = tmp_path / name
        path.write_bytes(content)
        line = refused(*RUN, "--from", path, *AT, "--log", log, capsys=capsys)
        assert name in line
        assert ";" in line  # problem; remedy
    assert not log.exists(), "nothing is logged for sound that cannot be read"


@pytest.mark.parametrize(
    ("rate", "channels", "subtype"),
    [(16000, 1, "PCM_U8"), (44100, 2, "PCM_16"), (48000, 1, "FLOAT")],
)
def test_other_wav_formats_are_listened_to(
    rate: int,
    channels: int,
    subtype: str,
    tmp_path: Path,
    log: Path,
    speech: np.ndarray,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """8-bit, 44.1 kHz stereo and 48 kHz float are converted, not refused."""
    import soxr

    sound = soxr.resample(speech.astype(np.float64) / 32768, 16000, rate)
    path = tmp_path / "other.wav"
    soundfile.write(path, np.stack([sound] * channels, axis=1), rate, subtype=subtype)
    status, out, err = call(*RUN, "--from", path, *AT, "--log", log, "--json", capsys=capsys)
    assert status == 3, err
    result = json.loads(out)
    assert result["counts"]["heard"] + result["counts"]["unclear"] >= 1, err
    assert result["complete"] is False


def test_the_machine_readable_result_stands_alone(
    tmp_path: Path, log: Path, speech: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "s.wav"
    soundfile.write(path, speech, 16000)
    status, out, err = call(*RUN, "--from", path, *AT, "--log", log, "--json", capsys=capsys)
    result = json.loads(out)
    assert status == 3
    for key in ("airframe", "started", "items", "findings", "void", "not_tested", "complete"):
        assert key in result
    for key in ("id", "outcome", "called", "expected", "times"):
        assert key in result["items"][0]
    assert result["caution"] == CAUTION
    assert CAUTION in " ".join(err.split())
    assert oct((log / result["session"]).stat().st_mode)[-3:] == "700"
    assert oct((log / result["session"] / "journal.jsonl").stat().st_mode)[-3:] == "600"


def test_a_mixdown_does_not_replace_the_recording(
    tmp_path: Path, log: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "s.wav"
    soundfile.write(path, np.zeros(16000, np.int16), 16000)
    before = path.read_bytes()
    line = refused(*RUN, "--from", path, *AT, "--mixdown", path, "--log", log, capsys=capsys)
    assert "would replace the recording" in line
    assert path.read_bytes() == before


def test_a_mixdown_that_fails_costs_no_other_file(
    tmp_path: Path,
    log: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full(*_: object) -> float:
        raise VoicecheckError("mix.wav: cannot be written (No space left on device)")

    monkeypatch.setattr("voicecheck.audio.mixdown.Mixdown.write", full)
    path = tmp_path / "s.wav"
    soundfile.write(path, np.zeros(16000, np.int16), 16000)
    mix = tmp_path / "mix.wav"
    status, out, _ = call(*RUN, "--from", path, *AT, "--mixdown", mix, "--log", log, capsys=capsys)
    assert status == 3
    assert "no mixdown: mix.wav" in out
    (report,) = log.glob("*/report.html")
    assert json.loads(report.with_name("summary.json").read_text())["complete"] is False
    assert not list(log.glob("spool/*")), "it is filed"


def test_a_log_folder_that_cannot_be_made(
    tmp_path: Path, speech: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file stands where the folder should be: refused whoever runs it, root too."""
    (tmp_path / "log").write_text("in the way")
    path = tmp_path / "s.wav"
    soundfile.write(path, speech, 16000)
    line = refused(*RUN, "--from", path, *AT, "--log", tmp_path / "log", capsys=capsys)
    assert "--log" in line


def test_no_microphone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PULSE_SERVER", f"unix:{tmp_path}/none")
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    line = refused(*RUN, "--log", tmp_path / "log", capsys=capsys)
    assert "microphone" in line
    assert "--from" in line


def test_a_word_without_pronunciation_is_found_before_the_start(
    tmp_path: Path, speech: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "checklists"
    shutil.copytree(checklists_dir(), folder)
    text = (folder / "skerry-j2.yaml").read_text("utf-8").replace("call: bell", "call: xqzrt")
    (folder / "skerry-j2.yaml").write_text(text, "utf-8")
    line_number = 1 + text[: text.index("call: xqzrt")].count("\n")
    path = tmp_path / "s.wav"
    soundfile.write(path, speech, 16000)
    arguments = ("run", folder / "skerry-j2.yaml", "--airframe", "ZZ-HJC")
    log = tmp_path / "log"
    line = refused(*arguments, "--from", path, *AT, "--log", log, capsys=capsys)
    assert f"skerry-j2.yaml:{line_number}:" in line
    assert "no pronunciation for 'xqzrt'" in line
    assert not log.exists()
    status, out, _ = call("validate", folder / "skerry-j2.yaml", capsys=capsys)
    assert status == 2
    assert f"skerry-j2.yaml:{line_number}:" in out


def test_validate_goes_through_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole fleet is validated in test_validate_advice."""
    airframes = tmp_path / "checklists" / "airframes"
    airframes.mkdir(parents=True)
    for file in (checklists_dir() / "airframes").glob("zz-ha*.yaml"):
        shutil.copy(file, airframes)
    shutil.copy(checklists_dir() / "tarn-40.yaml", airframes.parent)
    status, out, _ = call("validate", airframes.parent, capsys=capsys)
    assert status == 0, out
    assert out.count("positions") == 3


def test_validate_takes_a_shipped_id(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = call("validate", "tarn-40", capsys=capsys)
    assert (status, out.count("positions")) == (0, 3)
