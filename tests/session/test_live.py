"""A whole session in real time: a recorded crew speaks into a virtual microphone."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import soundfile
from soundcard import SoundCard

from voicecheck.journal.reader import verify
from voicecheck.rehearsal.record import differences
from voicecheck.shipped import recordings_dir

NAME = "three-findings"


def test_live_gives_the_same_outcomes_as_the_recording(tmp_path: Path) -> None:
    side = json.loads((recordings_dir() / f"{NAME}.json").read_text("utf-8"))
    heard = tmp_path / "heard.wav"
    with SoundCard() as card, card.record(heard):
        session = subprocess.Popen(
            [
                *(sys.executable, "-m", "voicecheck", "run", side["checklist"]),
                *("--airframe", side["airframe"], "--headset", "--json"),
                *("--log", str(tmp_path / "log")),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=card.env,
            text=True,
        )
        shown: list[str] = []
        ready = threading.Event()

        def read() -> None:
            assert session.stderr is not None
            for line in session.stderr:
                shown.append(line)
                if "Call power" in line:
                    ready.set()

        reader = threading.Thread(target=read)
        reader.start()
        try:
            assert ready.wait(60), "".join(shown)
            card.speak(recordings_dir() / f"{NAME}.wav")
            assert session.wait(60) == 1, "".join(shown)
        finally:
            session.kill()
            reader.join()
        assert session.stdout is not None
        result = json.loads(session.stdout.read())
    assert differences(side["truth"], result) == [], "".join(shown)
    assert result["source"]["kind"] == "microphone"
    assert verify(tmp_path / "log" / result["session"] / "journal.jsonl").ok
    prompts, rate = soundfile.read(heard, dtype="int16")
    loud = np.abs(prompts.astype(np.int32)) > 500
    assert loud.sum() > rate * 5, "the prompts were not heard at the loudspeaker"
