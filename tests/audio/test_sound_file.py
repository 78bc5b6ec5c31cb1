"""What a recording does where its file can grow no further."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest

from voicecheck.audio import sound_file
from voicecheck.audio.recorder import Recorder
from voicecheck.audio.source import RATE, Block


def test_a_wav_file_that_is_full_ends_the_recording_and_not_the_session(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Two sizes of 32 bits, the outer one over 36 bytes of header besides the sound (Microsoft/IBM
    # "Multimedia Programming Interface and Data Specifications 1.0", August 1991).
    assert sound_file._LARGEST + 36 == 2**32 - 1
    second = RATE * 2 * 2
    monkeypatch.setattr(sound_file, "_LARGEST", 2 * second)
    recorder = Recorder(tmp_path / "session.wav", 1)
    for _ in range(4):
        recorder.add(Block(np.full(RATE, 7, np.int16)), 0.0, [])
    recorder.close()
    assert recorder.failed is not None
    assert "session.wav: a WAV file holds no more" in recorder.failed
    with wave.open(str(recorder.path)) as kept:
        assert kept.getnframes() == recorder.written == 2 * RATE
