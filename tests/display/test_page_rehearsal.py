"""The page beside a simulated aircraft: its lamps as they are, and the checklist as ever."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from axe import violations
from rehearsed import Rehearsed
from stage import CLIPPED, SMALL_TABLET, SMALL_TARGETS, TABLET, Browser, Stage, theme

from voicecheck.audio.source import RATE

PLACES = """
return [...document.querySelectorAll("#cockpit .lamp")].map(
  (lamp) => [lamp.offsetLeft, lamp.offsetTop].map(Math.round))
"""
LAMPS = """
return Object.fromEntries([...document.querySelectorAll("#cockpit .lamp")].map(
  (lamp) => [lamp.querySelector("b").textContent, lamp.querySelector("small").textContent]))
"""


@pytest.mark.parametrize("registration", ["ZZ-HJD", "ZZ-HAC"])
def test_the_panel_is_whole_in_every_position(
    registration: str, chromium: Browser, tmp_path: Path
) -> None:
    with Stage(tmp_path, registration) as stage:
        rehearsed = Rehearsed(stage, "lamp-dark:FIRE L")
        chromium.open(stage.page.url)
        for call in ("battery on", "affirm", "avionics on", "affirm"):
            stage.say(call)
        places: dict[tuple[int, int], list[list[int]]] = {}
        for number, position in enumerate(rehearsed.checklist.positions):
            stage.say(position.select[0])
            rehearsed.show()
            chromium.shown(stage.board)
            lamps = chromium.js(LAMPS)
            panel = rehearsed.panel
            assert len(lamps) == len(panel.lamps)
            for lamp in panel.lamps:
                assert (lamps[lamp.caption] == "dark") == (not lamp.lit), (position.id, lamp)
            assert not chromium.js("return document.querySelectorAll('#items .lamp').length")
            theme(chromium, "night" if number % 2 else "day")
            for size in (SMALL_TABLET, TABLET):
                chromium.resize(size)
                assert chromium.js(CLIPPED) == [], f"{position.id} at {size}"
                found = chromium.js(PLACES)
                assert places.setdefault(size, found) == found, "a lamp has moved"
                assert chromium.js(SMALL_TARGETS) == [], f"{position.id} at {size}"
                chromium.shot(tmp_path / "screens" / f"{number}-{position.id}-{size[0]}.png")
            assert violations(chromium) == [], position.id


def test_a_student_sees_the_aircraft_on_the_page(chromium: Browser, tmp_path: Path) -> None:
    """The command as a user gives it; the recording is over long before anybody looks."""
    wav = tmp_path / "silence.wav"
    soundfile.write(wav, np.zeros(2 * RATE, np.int16), RATE)
    process = subprocess.Popen(
        [
            *(sys.executable, "-m", "voicecheck", "rehearse", "skerry-j2", "--airframe", "ZZ-HJC"),
            *("--as", "pilot", "--from", wav, "--kneeboard", "--stay", "--port", "0"),
            *("--progress", tmp_path / "progress.jsonl", "--log", tmp_path / "log", "--json"),
            *("--second-listener", "off"),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stderr is not None
        told = iter(process.stderr.readline, "")
        url = next(found[1] for line in told if (found := re.search(r"page: (\S+)", line)))
        next(line for line in told if "the page stays for review" in line)
        chromium.open(url)
        chromium.until("return document.body.classList.contains('rehearsing')")
        assert chromium.text("#name") == "Session ended"
        assert len(chromium.js(LAMPS)) == 27
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 0
    finally:
        process.kill()
    assert process.stdout is not None
    assert json.loads(process.stdout.read())["marks"]["right"] == 0
