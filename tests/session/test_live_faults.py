"""A cockpit with an open speaker, in real time: echo, a pulled plug, clipping, a recording."""

from __future__ import annotations

import contextlib
import json
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from soundcard import REAL_TIME, SoundCard, wait_until

from voicecheck.journal.reader import verify
from voicecheck.world.synthesis import Talker

pytestmark = REAL_TIME

CREW = Talker("festival", "cmu_us_slt_arctic_hts")
DELAY_MS, GAIN_DB = 60, -6.0


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SoundCard]:
    with SoundCard() as card:
        card.env["VOICECHECK_SETTINGS"] = str(tmp_path_factory.mktemp("kept") / "settings.yaml")
        yield card


def echo(card: SoundCard, *more: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "voicecheck", "audio", "--echo", "--json", *more],
        capture_output=True, text=True, check=False, env=card.env,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    result: dict[str, Any] = json.loads(done.stdout)
    return result


class Session:
    """A session of its own process whose screen is read as it comes."""

    def __init__(self, card: SoundCard, folder: Path) -> None:
        self.shown: list[str] = []
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "voicecheck", "run", "skerry-j2", "--airframe", "ZZ-HJC"),
                *("--no-keys", "--record", "--terse", "--json", "--log", str(folder / "log")),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=card.env,
            text=True,
        )
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.shown.append(line)

    def wait_for(self, words: str, seconds: float, since: int = 0) -> None:
        wait_until(
            lambda: any(words in line for line in self.shown[since:]),
            f"{words!r} on the screen:\n{''.join(self.shown)}",
            seconds,
        )

    def stop(self) -> dict[str, Any]:
        self.process.send_signal(signal.SIGINT)
        assert self.process.stdout is not None
        result: dict[str, Any] = json.loads(self.process.stdout.read())
        assert self.process.wait(30) == 3, "".join(self.shown)
        return result

    def close(self) -> None:
        self.process.kill()
        self.process.wait()
        self._reader.join()


def quiet(card: SoundCard, session: Session) -> None:
    """Wait as a crew does, until nobody has said anything for a moment."""
    count, unchanged = -1, 0
    while unchanged < 15:
        unchanged = unchanged + 1 if count == len(session.shown) else 0
        count = len(session.shown)
        threading.Event().wait(0.2)


def call(card: SoundCard, session: Session, words: str, *, gain: float = 1.0) -> None:
    """Say it until it is understood, some times over on a busy machine, as a crew would."""
    sound = np.clip(CREW.say(words).astype(float) * gain, -32768, 32767).astype(np.int16)
    for _ in range(6):
        quiet(card, session)
        since = len(session.shown)
        card.speak(sound)
        with contextlib.suppress(AssertionError):
            session.wait_for(" crew     ", 5, since)
        if any(f"crew     {words}" in line for line in session.shown[since:]):
            return
    raise AssertionError(f"{words!r} was never understood:\n{''.join(session.shown)}")


def test_a_headset_is_told_from_an_open_speaker_and_remembered(card: SoundCard) -> None:
    assert echo(card)["cockpit"] == "headset"
    card.join_room(DELAY_MS, GAIN_DB)
    found = echo(card, "--remember")
    assert found["cockpit"] == "speaker"
    assert 0.0 < found["delay_s"] < 0.5
    assert found["delay_s"] < found["echo_tail_s"] < 1.0
    kept = Path(card.env["VOICECHECK_SETTINGS"]).read_text("utf-8")
    assert "cockpit: speaker" in kept
    assert f"echo_tail: {found['echo_tail_s']}" in kept


def test_a_session_in_that_room_survives_a_pulled_plug(card: SoundCard, tmp_path: Path) -> None:
    session = Session(card, tmp_path)
    try:
        session.wait_for("Call power", 90)
        call(card, session, "battery on")
        call(card, session, "affirm")
        card.kill()
        session.wait_for("microphone lost", 10)
        session.wait_for("Holding", 10)
        session.wait_for("loudspeaker lost", 10)  # both have noticed before the plug is back
        card.restart()
        card.join_room(DELAY_MS, GAIN_DB)
        session.wait_for("Microphone is back", 20)
        session.wait_for("Resuming", 5)
        # Loud enough to clip hard, and then as it should be.
        call(card, session, "going to gear", gain=12.0)
        session.wait_for("microphone clipping", 5)
        result = session.stop()
    finally:
        session.close()
    (folder,) = (tmp_path / "log").glob("*Z-*")
    journal = folder / "journal.jsonl"
    assert verify(journal).ok
    lines = [json.loads(line) for line in journal.read_text("utf-8").splitlines()]
    events = [line["event"] for line in lines if "event" in line]
    heard = [event["callout"] for event in events if event["type"] == "heard"]
    assert set(heard) == {"power:battery:on", "command:affirm", "select:gear"}, heard
    lost = [event["part"] for event in events if event["type"] in ("lost", "restored")]
    assert lost.count("microphone") == 2, lost
    # A starved sound server can drop the loudspeaker once more than the plug did.
    assert lost.count("loudspeaker") >= 2, lost
    assert result["complete"] is False
    check_the_recording(tmp_path / "recordings", events)


def check_the_recording(folder: Path, events: list[dict[str, Any]]) -> None:
    """Sound and captions: the crew where the journal says they spoke, our voice in its own lane."""
    (wav,) = folder.glob("*.wav")
    sound, rate = soundfile.read(wav, dtype="int16")
    captions = wav.with_suffix(".vtt").read_text("utf-8")
    assert rate == 16_000
    for event in events:
        if event["type"] == "heard":
            said = sound[round(event["start"] * rate) : round(event["end"] * rate), 0]
            assert np.abs(said.astype(int)).max() > 2000, event
            assert f"<v Pilot>{event['words']}" in captions
    assert "This session is recorded." in captions
    spans = re.findall(r"(\d\d):(\d\d):([\d.]+) --> .*\n<v Voice>", captions)
    assert spans
    for hours, minutes, seconds in spans:
        at = round((int(hours) * 3600 + int(minutes) * 60 + float(seconds)) * rate)
        assert np.abs(sound[at : at + rate // 4, 1].astype(int)).max() > 2000
