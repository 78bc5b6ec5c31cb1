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
from voicecheck.audio.wav import WavSource
from voicecheck.caution import CAUTION
from voicecheck.errors import VoicecheckError
from voicecheck.session.options import RecordingOptions
from voicecheck.session.recording import Recording, expire

SESSION = "20261125T061500Z-ZZ-HJC-4f2a"
TIMING = re.compile(r"^(\d\d+):(\d\d):(\d\d)\.(\d\d\d) --> (\d\d+):(\d\d):(\d\d)\.(\d\d\d)$")
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
    for start in (3.0, 1.0, 2.0, 360_000.0, 35_999.0):
        recording.heard(start, start + 0.5, 0, f"at {start}")
    recording.close()
    assert [start for start, _, _ in cues(recording.captions)] == [
        1.0,
        2.0,
        3.0,
        35_999.0,
        360_000.0,
    ]


KILLED = """
import os, signal, sys
from pathlib import Path
import numpy as np
from voicecheck.audio.source import BLOCK, Block
from voicecheck.session.options import RecordingOptions
from voicecheck.session.recording import Recording
recording = Recording(RecordingOptions(Path(sys.argv[1]), kind=sys.argv[2]), {session!r}, 1)
for number in range(50 * 7 + 20):
    recording.add(Block(np.full(BLOCK, 100 + number, np.int16)))
    if number == 60:
        recording.heard(0.5, 1.0, 0, "three green")
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_crash_leaves_a_readable_file_less_a_second(tmp_path: Path) -> None:
    program = textwrap.dedent(KILLED).format(session=SESSION)
    done = subprocess.run([sys.executable, "-c", program, str(tmp_path), "wav"], check=False)
    assert done.returncode == -signal.SIGKILL
    # By a reader that is not ours: the standard library's, strict about sizes.
    with wave.open(str(tmp_path / f"{SESSION}.wav")) as file:
        assert file.getnframes() == 7 * RATE
        left = np.frombuffer(file.readframes(7 * RATE), "<i2").reshape(-1, 2)[:, 0]
    assert left[-1] == 100 + 50 * 7 - 1
    assert [text for _, _, text in cues(tmp_path / f"{SESSION}.vtt")] == ["<v Pilot>three green"]


def test_a_crash_leaves_a_readable_flac_less_a_second_and_a_frame(tmp_path: Path) -> None:
    program = textwrap.dedent(KILLED).format(session=SESSION)
    command = [sys.executable, "-c", program, str(tmp_path), "flac"]
    assert subprocess.run(command, check=False).returncode == -signal.SIGKILL
    path = tmp_path / f"{SESSION}.flac"
    # What the program that was killed had done: 7 s and 20 blocks, in frames of 4,096 samples.
    frames = (7 * RATE - 1) // 4096 * 4096
    assert soundfile.info(str(path)).frames == frames
    wanted = np.repeat(np.arange(100, 100 + 50 * 7), BLOCK)[:frames]
    left, rate = soundfile.read(path, dtype="int16")
    assert rate == RATE
    assert (left[:, 0] == wanted).all()
    assert not left[:, 1].any()
    ours = np.concatenate([part.samples for part in WavSource(path, 2).blocks()])
    assert (ours == wanted).all()
    # By a decoder that shares nothing with the one that wrote: SoX stops at damage.
    raw = subprocess.run(["sox", path, "-t", "raw", "-"], capture_output=True, check=True)
    assert (np.frombuffer(raw.stdout, "<i2").reshape(-1, 2)[:, 0] == wanted).all()
    assert [text for _, _, text in cues(tmp_path / f"{SESSION}.vtt")] == ["<v Pilot>three green"]


def test_flac_holds_the_same_sound_as_wav(tmp_path: Path) -> None:
    random = np.random.default_rng(5)
    sounds = [random.integers(-9000, 9000, BLOCK).astype(np.int16) for _ in range(130)]
    kept = []
    for kind in ("wav", "flac"):
        recording = Recording(RecordingOptions(tmp_path / kind, kind=kind), SESSION, 2)
        for number, sound in enumerate(sounds):
            recording.add(Block(sound, sounds[-number]))
        recording.close()
        recording.close()
        assert recording.failed is None
        assert recording.path.suffix == f".{kind}"
        assert recording.path.stat().st_mode & 0o077 == 0
        kept.append(soundfile.read(recording.path, dtype="int16")[0])
    assert kept[0].shape == (130 * BLOCK, 3)
    assert (kept[0] == kept[1]).all()


def test_a_disk_that_fills_up_under_a_flac_is_told_of(tmp_path: Path) -> None:
    """By the system itself: a file may grow to 100,000 bytes and no further."""
    program = """
    import resource, signal, sys
    from pathlib import Path
    import numpy as np
    from voicecheck.audio.source import BLOCK, Block
    from voicecheck.session.options import RecordingOptions
    from voicecheck.session.recording import Recording
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
    recording = Recording(RecordingOptions(Path(sys.argv[1]), kind="flac"), "20261125T061500Z-A", 1)
    random = np.random.default_rng(5)
    for _ in range(500):
        recording.add(Block(random.integers(-9000, 9000, BLOCK).astype(np.int16)))
    print(recording.failed)
    recording.close()
    """
    command = [sys.executable, "-c", textwrap.dedent(program), str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "the recording ends here" in done.stdout
    assert "Traceback" not in done.stderr
    left = soundfile.read(tmp_path / "20261125T061500Z-A.flac", dtype="int16")[0]
    assert len(left) > 2 * RATE


def test_a_resumed_session_records_a_part_of_its_own(tmp_path: Path) -> None:
    paths = []
    for kind in ("wav", "flac", "wav"):
        recording = Recording(RecordingOptions(tmp_path, kind=kind), SESSION, 1)
        recording.close()
        paths.append(recording.path.name)
    assert paths == [f"{SESSION}.wav", f"{SESSION}.part2.flac", f"{SESSION}.part3.wav"]


def test_old_recordings_go_and_nothing_else_does(tmp_path: Path) -> None:
    old, young = tmp_path / f"{SESSION}.wav", tmp_path / f"{SESSION}.part2.flac"
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
        def write(self, sound: object) -> None:
            raise OSError(28, "No space left on device")

        def close(self) -> None:
            pass

    recording._recorder._file = Full()
    for _ in range(120):
        recording.add(block(1))
    assert recording.failed is not None
    assert "No space left on device; the recording ends here" in recording.failed
    recording.close()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(VoicecheckError, match="choose another with --recordings"):
        Recording(RecordingOptions(tmp_path / "file" / "deeper"), SESSION, 1)
