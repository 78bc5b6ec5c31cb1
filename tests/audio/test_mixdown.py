"""The mix of crew and prompts, sample by sample."""

from __future__ import annotations

import stat
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicecheck.audio.mixdown import PROMPT_GAIN, Mixdown
from voicecheck.audio.source import RATE, Samples
from voicecheck.audio.wav import WavSource
from voicecheck.errors import VoicecheckError


def level(value: int, seconds: float) -> Samples:
    return np.full(round(seconds * RATE), value, np.int16)


@pytest.fixture
def crew(tmp_path: Path) -> WavSource:
    path = tmp_path / "crew.wav"
    soundfile.write(path, level(1000, 1.0), RATE, subtype="PCM_16")
    return WavSource(path)


def read(path: Path) -> Samples:
    with wave.open(str(path)) as reader:
        assert reader.getparams()[:3] == (1, 2, RATE)
        return np.frombuffer(reader.readframes(reader.getnframes()), np.int16)


def test_without_prompts_the_crew_is_untouched_and_the_header_minimal(
    crew: WavSource, tmp_path: Path
) -> None:
    out = tmp_path / "mix.wav"
    assert Mixdown(crew).write(out) == 1.0
    assert np.array_equal(read(out), level(1000, 1.0))
    # Computed from the format: 44 bytes of header and 2 for each of 16000 samples.
    content = out.read_bytes()
    assert len(content) == 32044
    assert int.from_bytes(content[4:8], "little") == 32036
    assert stat.S_IMODE(out.stat().st_mode) == 0o600


def test_prompts_stand_6_db_lower_exactly_where_they_were_placed(
    crew: WavSource, tmp_path: Path
) -> None:
    mix = Mixdown(crew)
    mix.place(0.7501, level(8000, 0.1))
    mix.place(0.2, level(4000, 0.3))
    mix.place(0.3, level(2000, 0.1))
    mix.write(tmp_path / "mix.wav")
    expected = np.full(RATE, 1000.0)
    expected[3200:8000] += 4000 * PROMPT_GAIN
    expected[4800:6400] += 2000 * PROMPT_GAIN
    expected[12002:13602] += 8000 * PROMPT_GAIN
    assert np.array_equal(read(tmp_path / "mix.wav"), np.rint(expected).astype(np.int16))
    assert pytest.approx(0.501, abs=0.001) == PROMPT_GAIN  # 10^(-6/20)


def test_a_prompt_that_runs_on_extends_the_mix(crew: WavSource, tmp_path: Path) -> None:
    mix = Mixdown(crew)
    mix.place(0.9, level(4000, 0.5))
    mix.place(1.7, level(4000, 0.1))
    assert mix.write(tmp_path / "mix.wav") == pytest.approx(1.8)
    samples = read(tmp_path / "mix.wav")
    assert samples[RATE] == round(4000 * PROMPT_GAIN)
    assert samples[round(1.5 * RATE)] == 0
    assert samples[-1] == round(4000 * PROMPT_GAIN)


def test_an_overload_flattens_and_never_wraps(tmp_path: Path) -> None:
    path = tmp_path / "loud.wav"
    soundfile.write(path, level(30000, 0.1), RATE, subtype="PCM_16")
    mix = Mixdown(WavSource(path))
    mix.place(0, level(30000, 0.05))
    mix.write(tmp_path / "mix.wav")
    assert set(read(tmp_path / "mix.wav")) == {32767, 30000}


def test_a_failed_mix_leaves_nothing_behind(crew: WavSource, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    old = folder / "mix.wav"
    old.write_bytes(b"old")
    crew.path.write_bytes(crew.path.read_bytes()[:5000])
    crew.path.write_bytes(b"not sound any more")
    with pytest.raises(VoicecheckError):
        Mixdown(crew).write(old)
    assert [p.name for p in folder.iterdir()] == ["mix.wav"]
    assert old.read_bytes() == b"old"
    with pytest.raises(VoicecheckError, match="cannot be written"):
        Mixdown(crew).write(tmp_path / "no such folder" / "mix.wav")


def test_a_prompt_before_the_start_is_refused(crew: WavSource) -> None:
    with pytest.raises(ValueError, match="before the recording"):
        Mixdown(crew).place(-0.1, level(1, 0.1))
