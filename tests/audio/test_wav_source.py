"""Recordings of every kind come out as the same 16 kHz samples, and bad ones as one line."""

from __future__ import annotations

import os
import struct
import subprocess
import tracemalloc
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE, Channels
from voicecheck.audio.wav import WavSource
from voicecheck.errors import VoicecheckError


def tone(hertz: float, seconds: float, rate: int, peak: float = 0.5) -> NDArray[np.float64]:
    return peak * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)


def everything(path: Path, channels: Channels = 1) -> NDArray[np.int16]:
    return np.concatenate([block.samples for block in WavSource(path, channels).blocks()])


def pitch(samples: NDArray[np.int16]) -> float:
    """Loudest frequency in hertz."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum)) * RATE / len(samples)


@pytest.fixture
def second(tmp_path: Path) -> Path:
    """One second at 16 kHz, mono, 16 bit."""
    path = tmp_path / "second.wav"
    soundfile.write(path, tone(440, 1, RATE), RATE, subtype="PCM_16")
    return path


def test_known_header_is_read_back_exactly(tmp_path: Path) -> None:
    # Header laid out by hand from "Multimedia Programming Interface and Data Specifications
    # 1.0" (Microsoft/IBM, August 1991): fmt is format, channels, rate, bytes a second, block
    # align, bits. Sizes computed: 1 s at 16 kHz, mono, 16 bit is 32044 bytes in all.
    samples = np.arange(-8000, 8000, dtype="<i2")
    fmt = struct.pack("<HHIIHH", 1, 1, 16000, 32000, 2, 16)
    data = samples.tobytes()
    content = (
        b"RIFF" + struct.pack("<I", 32036) + b"WAVEfmt " + struct.pack("<I", 16) + fmt
        + b"data" + struct.pack("<I", 32000) + data
    )  # fmt: skip
    assert len(content) == 32044
    path = tmp_path / "known.wav"
    path.write_bytes(content)
    # The standard library and sox agree with the hand-made header.
    with wave.open(str(path)) as reader:
        assert reader.getparams()[:4] == (1, 2, 16000, 16000)
    asked = subprocess.run(["soxi", "-s", str(path)], capture_output=True, text=True, check=True)
    assert asked.stdout.strip() == "16000"
    assert np.array_equal(everything(path), samples)
    assert WavSource(path).seconds == 1.0
    assert WavSource(path).name == "known.wav"


def test_blocks_are_20_ms_and_only_the_last_is_shorter(tmp_path: Path) -> None:
    path = tmp_path / "odd.wav"
    soundfile.write(path, np.ones(BLOCK * 30 + 7, np.int16), RATE, subtype="PCM_16")
    lengths = [len(block) for block in WavSource(path).blocks()]
    assert lengths == [BLOCK] * 30 + [7]


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 48000, 96000])
@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_every_width_and_rate(tmp_path: Path, rate: int, subtype: str) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(1000, 1, rate), rate, subtype=subtype)
    samples = everything(path)
    assert len(samples) == pytest.approx(RATE, abs=1)
    middle = samples[1600:-1600]
    assert pitch(middle) == pytest.approx(1000, abs=2)
    # A sine of peak 0.5 has an RMS of 0.5/sqrt(2) of full scale.
    assert np.sqrt(np.mean(middle.astype(float) ** 2)) == pytest.approx(11585, rel=0.01)


@pytest.mark.parametrize("made", [["-b", "8"], ["-b", "24"], ["-b", "32", "-e", "float"]])
def test_files_made_by_sox(tmp_path: Path, made: list[str]) -> None:
    path = tmp_path / "sox.wav"
    subprocess.run(
        ["sox", "-n", "-r", "48000", "-c", "2", *made, str(path), "synth", "1", "sine", "700",
         "vol", "0.5"],
        check=True,
    )  # fmt: skip
    samples = everything(path)
    assert len(samples) == pytest.approx(RATE, abs=1)
    assert pitch(samples) == pytest.approx(700, abs=2)


@pytest.mark.parametrize(
    ("suffix", "format"), [("flac", "FLAC"), ("wav", "RF64"), ("wav", "WAVEX")]
)
def test_kin_of_wav_are_exact_too(tmp_path: Path, suffix: str, format: str) -> None:
    samples = (tone(440, 0.5, RATE) * 32767).astype(np.int16)
    path = tmp_path / f"kin.{suffix}"
    soundfile.write(path, samples, RATE, subtype="PCM_16", format=format)
    assert np.array_equal(everything(path), samples)


def test_content_counts_and_not_the_extension(tmp_path: Path, second: Path) -> None:
    odd = tmp_path / "crew.raw"
    odd.write_bytes(second.read_bytes())
    assert len(everything(odd)) == RATE


def test_resampling_does_not_shift_time(tmp_path: Path) -> None:
    click = np.zeros(48000)
    click[24000] = 0.9
    path = tmp_path / "click.wav"
    soundfile.write(path, click, 48000, subtype="PCM_24")
    assert int(np.argmax(np.abs(everything(path)))) == 8000


def test_stereo_is_mixed_or_kept_apart(tmp_path: Path) -> None:
    pilot, other = np.full(800, 1000, np.int16), np.full(800, 3001, np.int16)
    path = tmp_path / "stereo.wav"
    soundfile.write(path, np.stack([pilot, other], axis=1), RATE, subtype="PCM_16")
    assert set(everything(path)) == {2000}  # 2000.5 rounds to even
    blocks = list(WavSource(path, channels=2).blocks())
    assert [set(block.samples) for block in blocks] == [{1000}] * 3
    assert all(block.second is not None and set(block.second) == {3001} for block in blocks)
    assert set(blocks[0].mixed) == {2000}


def test_opposite_full_scale_mix_does_not_wrap(tmp_path: Path) -> None:
    path = tmp_path / "loud.wav"
    soundfile.write(path, np.full((800, 2), 2.0), RATE, subtype="FLOAT")
    assert set(everything(path)) == {32767}


def test_a_long_file_is_streamed(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    with soundfile.SoundFile(path, "w", 48000, 2, "PCM_16") as out:
        for _ in range(120):
            out.write(np.zeros((48000, 2), np.int16))
    tracemalloc.start()
    try:
        count = sum(len(block) for block in WavSource(path).blocks())
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert count == pytest.approx(120 * RATE, abs=1)
    assert peak < 2_000_000  # the file holds 23 MB


def test_stop_ends_a_file_early(second: Path) -> None:
    source = WavSource(second)
    blocks = source.blocks()
    next(blocks)
    source.stop()
    assert sum(len(block) for block in blocks) < RATE


def refusal(path: Path, channels: Channels = 1) -> str:
    """The one line that a bad recording gives."""
    with pytest.raises(VoicecheckError) as caught:
        everything(path, channels)
    told = str(caught.value)
    assert told.startswith(str(path))
    assert "\n" not in told
    assert ";" in told, "no remedy"
    return told


def test_missing_file_and_folder(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "none.wav")
    assert "is a folder" in refusal(tmp_path)


def test_pipe_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    assert "not a plain file" in refusal(tmp_path / "pipe.wav")


@pytest.fixture
def forbidden(second: Path) -> Iterator[Path]:
    """A file without read permission. Root may read anything, so it steps down for the while."""
    second.chmod(0)
    if os.geteuid() != 0:
        yield second
        return
    os.seteuid(65534)
    yield second
    os.seteuid(0)


def test_unreadable_file(forbidden: Path) -> None:
    assert "Permission denied" in refusal(forbidden)


def test_empty_files(tmp_path: Path) -> None:
    nothing = tmp_path / "nothing.wav"
    nothing.touch()
    assert "empty (0 bytes)" in refusal(nothing)
    silent = tmp_path / "header.wav"
    soundfile.write(silent, np.zeros(0, np.int16), RATE, subtype="PCM_16")
    assert "holds no sound" in refusal(silent)


@pytest.mark.parametrize("left", [44 + 8000, 44 + 31_999])
def test_truncated_file_says_how_much_is_missing(second: Path, left: int) -> None:
    second.write_bytes(second.read_bytes()[:left])
    told = refusal(second)
    assert f"{32044 - left} of the 32000 bytes" in told
    assert f"{(left - 44) // 2 / RATE:.2f} s of 1.00 s are there" in told


def test_truncated_in_the_header(second: Path) -> None:
    for left in (3, 11, 20, 40, 44):
        second.write_bytes(second.read_bytes()[:left])
        refusal(second)


def test_recorder_that_never_wrote_its_length(second: Path) -> None:
    content = bytearray(second.read_bytes())
    content[40:44] = struct.pack("<I", 0)
    second.write_bytes(content)
    assert "stopped too early" in refusal(second)


def test_open_ended_length_of_a_live_recorder_is_taken(second: Path) -> None:
    whole = everything(second)
    content = bytearray(second.read_bytes())
    content[4:8] = content[40:44] = struct.pack("<I", 0xFFFFFFFF)
    second.write_bytes(content)
    assert np.array_equal(everything(second), whole)


def test_truncated_flac(tmp_path: Path) -> None:
    path = tmp_path / "cut.flac"
    noise = np.random.default_rng(1).normal(0, 3000, RATE * 3).astype(np.int16)
    soundfile.write(path, noise, RATE, subtype="PCM_16")
    path.write_bytes(path.read_bytes()[:40_000])
    told = refusal(path)
    assert "missing" in told or "damaged" in told


def test_other_content(tmp_path: Path) -> None:
    text = tmp_path / "text.wav"
    text.write_text("three green, one red\n" * 20)
    assert "not a WAV or FLAC" in refusal(text)
    ogg = tmp_path / "sound.wav"
    soundfile.write(ogg, tone(440, 1, 44100), 44100, format="OGG")
    assert "OGG is not supported" in refusal(ogg)


def test_samples_that_are_not_numbers(tmp_path: Path) -> None:
    for bad in (np.nan, np.inf):
        sound = tone(440, 2, RATE).astype(np.float32)
        sound[24000] = bad
        path = tmp_path / "float.wav"
        soundfile.write(path, sound, RATE, subtype="FLOAT")
        assert "at 1.500 s a sample is not a number" in refusal(path)


def test_rate_too_low_and_wrong_channels(tmp_path: Path, second: Path) -> None:
    low = tmp_path / "low.wav"
    soundfile.write(low, tone(440, 1, 4000), 4000, subtype="PCM_16")
    assert "4000 Hz is too low" in refusal(low)
    assert "need a stereo file" in refusal(second, channels=2)
