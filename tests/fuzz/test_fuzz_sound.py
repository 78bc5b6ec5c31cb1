"""Whatever a WAV file holds: sound comes out in blocks, or one line says what is wrong."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fuzzing import for_long, quick, spoilt_bytes, watched
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.audio.riff import sound_data
from voicecheck.audio.source import RATE
from voicecheck.audio.wav import WavSource
from voicecheck.errors import VoicecheckError

MOST_SECONDS = 60
"""A header may promise hours; a file of some kilobytes holds no more than this at 8 kHz."""


def sound(rate: int, channels: int, kind: str, form: str) -> bytes:
    samples = (np.sin(np.arange(1200) / 9) * 0.4).astype(np.float32)
    file = io.BytesIO()
    soundfile.write(file, np.stack([samples] * channels, axis=1), rate, format=form, subtype=kind)
    return file.getvalue()


GOOD = [
    sound(16000, 1, "PCM_16", "WAV"),
    sound(44100, 2, "PCM_24", "WAV"),
    sound(48000, 1, "FLOAT", "WAV"),
    sound(8000, 1, "PCM_U8", "WAV"),
    sound(16000, 2, "PCM_16", "WAVEX"),
    sound(16000, 1, "PCM_16", "RF64"),
    sound(16000, 1, "PCM_16", "FLAC"),
    sound(16000, 1, "ULAW", "WAV"),
    sound(16000, 1, "IMA_ADPCM", "WAV"),
]


@pytest.fixture(scope="module")
def file() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        yield Path(name) / "crew.wav"


def listened_to(file: Path, channels: int) -> None:
    refusal = ""
    try:
        source = WavSource(file, 2 if channels == 2 else 1)
        count = 0
        for block in source.blocks():
            assert np.isfinite(block.samples).all()
            count += len(block)
            assert count <= MOST_SECONDS * RATE
    except VoicecheckError as error:
        refusal = str(error)
    assert len(refusal.splitlines()) <= 1
    assert not refusal or str(file) in refusal
    sound_data(file)


@for_long
@quick
@given(st.sampled_from(GOOD).flatmap(spoilt_bytes), st.sampled_from([1, 2]))
def test_a_spoilt_recording(file: Path, content: bytes, channels: int) -> None:
    file.write_bytes(content)
    with watched():
        listened_to(file, channels)


@for_long
@quick
@given(
    st.sampled_from([b"", b"RIFF\x24\0\0\0WAVE", b"RIFF\xff\xff\xff\xffWAVEfmt ", b"fLaC"]),
    st.binary(max_size=300),
)
def test_bytes_for_a_recording(file: Path, head: bytes, content: bytes) -> None:
    file.write_bytes(head + content)
    with watched():
        listened_to(file, 1)
