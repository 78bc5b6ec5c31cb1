"""Session sound kept with consent: readable at any moment, captions that fit it, a limit."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import textwrap
import time
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.source import BLOCK, RATE, Block
from voicecheck.caution import CAUTION
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import RecordingOptions
from voicecheck.session.recording import Recording, expire

SESSION = "20261125T061500Z-ZZ-HJC-4f2a"
TIMING = re.compile(r"^(\d\d):(\d\d):(\d\d)\.(\d\d\d) --> (\d\d):(\d\d):(\d\d)\.(\d\d\d)$")
"""A cue timing line with hours: WebVTT, W3C Candidate Recommendation 4 April 2019, section 4.1."""


def block(value: int, second: int | None = None) -> Block:
    other = None if second is None else np.full(BLOCK, second, np.int16)
    return Block(np.full(BLOCK, value, np.int16), other)


def cues(path: Path) -> list[tuple[float, float, str]]:
    """The cues of a WebVTT file, with the checks that the format asks of a writer."""
    text = path.read_text("utf-8")
    blocks = [part.strip("\n").split("\n") for part in re.split(r"\n{2,}", text.strip("\n"))]
    assert blocks[0] == ["WEBVTT"]
    found = []
    for lines in blocks[1:]:
        if lines[0] == "NOTE":
            assert "-->" not in "".join(lines)
            continue
        match = TIMING.match(lines[0])
        assert match, lines[0]
        hours = [int(part) for part in match.groups()]
        start, end = (h * 3600 + m * 60 + s + t / 1000 for h, m, s, t in (hours[:4], hours[4:]))
        assert start < end
        assert "-->" not in "".join(lines[1:])
        found.append((start, end, "\n".join(lines[1:])))
    return found


def test_sound_and_captions_fit_each_other(tmp_path: Path) -> None:
    now = [100.0]
    player = SilentPlayer(lambda: now[0])
    recording = Recording(RecordingOptions(tmp_path), SESSION, 2, offset=100.0)
    prompt = player.play(np.full(RATE // 2, 7000, np.int16))
    recording.gave(prompt, "three green. <loud> & clear --> go")
    recording.gave(player.tone(np.full(1600, 500, np.int16)), "")
    for _ in range(100):
        now[0] += BLOCK / RATE
        player.heard()
        recording.add(block(1000, -2000))
    recording.heard(100.2, 100.9, 1, "horn sounding")
    recording.close()
    sound, rate = soundfile.read(recording.path, dtype="int16")
    assert (rate, sound.shape) == (16_000, (100 * BLOCK, 3))
    assert (sound[:, 0] == 1000).all()
    assert (sound[:, 1] == -2000).all()
    [(start, end, said), (first, last, crew)] = cues(recording.captions)
    loud = np.flatnonzero(sound[:, 2] >= 7000) / RATE
    assert (start, end) == pytest.approx((loud[0], loud[-1]), abs=0.001)
    assert said == "<v Voice>three green. &lt;loud&gt; &amp; clear --&gt; go"
    assert (first, last, crew) == (
        pytest.approx(0.2),
        pytest.approx(0.9),
        "<v Second>horn sounding",
    )
    assert " ".join(CAUTION.split()) in " ".join(recording.captions.read_text("utf-8").split())
    for path in (recording.path, recording.captions):
        assert path.stat().st_mode & 0o077 == 0


def test_captions_stand_in_order_of_time(tmp_path: Path) -> None:
    recording = Recording(RecordingOptions(tmp_path), SESSION, 1)
    for start in (3.0, 1.0, 2.0):
        recording.heard(start, start + 0.5, 0, f"at {start}")
    recording.close()
    assert [start for start, _, _ in cues(recording.captions)] == [1.0, 2.0, 3.0]


KILLED = """
import os, signal, sys
from pathlib import Path
import numpy as np
from voicecheck.audio.source import BLOCK, Block
from voicecheck.session.options import RecordingOptions
from voicecheck.session.recording import Recording
recording = Recording(RecordingOptions(Path(sys.argv[1])), {session!r}, 1)
for number in range(50 * 7 + 20):
    recording.add(Block(np.full(BLOCK, 100 + number, np.int16)))
    if number == 60:
        recording.heard(0.5, 1.0, 0, "three green")
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_crash_leaves_a_readable_file_less_a_second(tmp_path: Path) -> None:
    program = textwrap.dedent(KILLED).format(session=SESSION)
    done = subprocess.run([sys.executable, "-c", program, str(tmp_path)], check=False)
    assert done.returncode == -signal.SIGKILL
    # By a reader that is not ours: the standard library's, strict about sizes.
    with wave.open(str(tmp_path / f"{SESSION}.wav")) as file:
        assert file.getnframes() == 7 * RATE
        left = np.frombuffer(file.readframes(7 * RATE), "<i2").reshape(-1, 2)[:, 0]
    assert left[-1] == 100 + 50 * 7 - 1
    assert [text for _, _, text in cues(tmp_path / f"{SESSION}.vtt")] == ["<v Pilot>three green"]


def test_a_resumed_session_records_a_part_of_its_own(tmp_path: Path) -> None:
    paths = []
    for _ in range(3):
        recording = Recording(RecordingOptions(tmp_path), SESSION, 1)
        recording.close()
        paths.append(recording.path.name)
    assert paths == [f"{SESSION}.wav", f"{SESSION}.part2.wav", f"{SESSION}.part3.wav"]


def test_old_recordings_go_and_nothing_else_does(tmp_path: Path) -> None:
    old, young = tmp_path / f"{SESSION}.wav", tmp_path / f"{SESSION}.part2.vtt"
    foreign, folder = tmp_path / "holiday.wav", tmp_path / "20261125T061500Z-x.wav"
    for path in (old, young, foreign):
        path.write_bytes(b"x")
    folder.mkdir()
    long_ago = time.time() - 31 * 86_400
    for path in (old, foreign, folder):
        os.utime(path, (long_ago, long_ago))
    assert expire(tmp_path, 30) == [old]
    assert not old.exists()
    assert young.exists()
    assert foreign.exists()
    assert folder.exists()


def test_a_full_disk_ends_the_recording_and_not_the_session(tmp_path: Path) -> None:
    recording = Recording(RecordingOptions(tmp_path), SESSION, 1)

    class Full:
        closed = False

        def writeframes(self, sound: bytes) -> None:
            raise OSError(28, "No space left on device")

        def close(self) -> None:
            pass

    recording._recorder._wave = Full()  # type: ignore[assignment]
    for _ in range(120):
        recording.add(block(1))
    assert recording.failed is not None
    assert "No space left on device; the recording ends here" in recording.failed
    recording.close()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(VoicecheckError, match="choose another with --recordings"):
        Recording(RecordingOptions(tmp_path / "file" / "deeper"), SESSION, 1)
