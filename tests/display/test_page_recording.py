"""A whole recorded session through the default listeners, watched in a real browser."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from axe import violations
from stage import SMALL_TABLET, Browser

from voicecheck.rehearsal.record import differences
from voicecheck.shipped import recordings_dir

NAME = "three-findings"


@pytest.mark.timeout(600)
def test_a_recorded_session_is_seen_from_beginning_to_end(
    chromium: Browser, tmp_path: Path
) -> None:
    side = json.loads((recordings_dir() / f"{NAME}.json").read_text("utf-8"))
    session = subprocess.Popen(
        [
            *(sys.executable, "-m", "voicecheck", "run", side["checklist"]),
            *("--airframe", side["airframe"], "--from", str(recordings_dir() / f"{NAME}.wav")),
            *("--log", str(tmp_path / "log"), "--json", "--kneeboard", "--port", "0"),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    shown: list[str] = []
    found: list[str] = []
    ready = threading.Event()

    def read() -> None:
        assert session.stderr is not None
        for line in session.stderr:
            shown.append(line)
            if address := re.search(r"kneeboard page: (http://127\.0\.0\.1:\d+/)", line):
                found.append(address[1])
                ready.set()

    reader = threading.Thread(target=read)
    reader.start()
    result: list[str] = []
    collector = threading.Thread(target=lambda: result.append(session.stdout.read()))  # type: ignore[union-attr]
    collector.start()
    names: dict[str, None] = {}
    try:
        assert ready.wait(60), "".join(shown)
        chromium.resize(SMALL_TABLET)
        chromium.open(found[0])
        while chromium.text("#phase") != "Session ended":
            name = chromium.text("#name")
            if name not in names:
                names[name] = None
                chromium.shot(tmp_path / "screens" / f"{len(names)}.png")
            assert session.poll() is None or chromium.text("#phase") == "Session ended"
            time.sleep(0.1)
        assert session.wait(60) == 1, "".join(shown)
    finally:
        session.kill()
        reader.join()
        collector.join()
    summary = json.loads(result[0])
    assert differences(side["truth"], summary) == []
    places = {item["position_name"] for item in summary["items"] if item["called"]}
    assert places <= set(names), "a position went by unseen"
    for finding in summary["findings"]:
        assert f"{finding['position_name']}: {finding['what']}" in chromium.text("#items")
    assert chromium.text("#finding-count") == f"✗ {len(summary['findings'])} findings"
    chromium.until("return document.getElementById('lost').textContent.includes('last picture')")
    assert violations(chromium) == []
