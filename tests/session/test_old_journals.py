"""Journals from before they brought their words: replayed and reported as they were."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from cockpit import Cockpit
from toy import ToySession, everything, morning

from voicecheck.engine import events
from voicecheck.journal.format import Kind
from voicecheck.journal.writer import JournalWriter
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import load
from voicecheck.logbook.transcript import transcript
from voicecheck.session.replay import replay

CALLS = ("power:battery:on", "command:affirm", "power:avionics:on", "command:affirm",
         "select:fire", "command:correction", "select:fire", "command:abandon",
         "reason:no time left")  # fmt: skip


def recorded(folder: Path) -> Path:
    cockpit = Cockpit(folder)
    for at, callout in enumerate(CALLS, 1):
        cockpit.conductor.handle(events.KeyPressed(callout, at * 2.0))
    cockpit.record.close()
    return cockpit.folder


def as_before(folder: Path, to: Path) -> Path:
    """The same session, as it was written when a header had no words and named one bus."""
    lines = [json.loads(line) for line in (folder / "journal.jsonl").read_text().splitlines()]
    header = {k: v for k, v in lines[0].items() if k not in ("kind", "n", "prev", "utc", "seal")}
    old: dict[str, Any] = header["checklist"]["resolved"]
    assert old.pop("record")
    assert old.pop("report")
    old["reasons"] = dict(old["reasons"])
    old["which_dark"] = "which one is dark"
    minutes = [bus.pop("minutes") for bus in old["buses"]]
    old["battery_minutes"] = next((m for m in minutes if m is not None), None)
    made = to / folder.name
    made.mkdir(parents=True)
    writer = JournalWriter.create(made, header)
    for line in lines[1:]:
        fields = {k: v for k, v in line.items() if k not in ("kind", "n", "prev", "utc", "seal")}
        writer.append(Kind(line["kind"]), fields, datetime.fromisoformat(line["utc"]))
    writer.close()
    return made


def test_an_old_journal_replays_and_reads_as_before(tmp_path: Path) -> None:
    new = recorded(tmp_path / "new")
    old = as_before(new, tmp_path / "old")
    first, second = replay(new), replay(old)
    assert first.summary is not None
    assert first.summary == second.summary
    timed = second.engine.checklist.timed_bus
    assert timed is not None
    assert (timed.id, timed.minutes) == ("battery", 10)

    def text(folder: Path) -> list[str]:
        lines = transcript(load(folder)).splitlines()
        return [line for line in lines if not line.startswith("Record")]

    assert text(new) == text(old)
    assert "Findings" in report(load(old))


def test_an_old_journal_of_any_language_is_read_in_english(tmp_path: Path) -> None:
    session = ToySession(tmp_path / "new", morning())
    session.press("power:qarz:on", "command:affirm", "select:zorb")
    session.end()
    old = as_before(session.folder, tmp_path / "old")
    assert "Findings" in report(load(old))
    assert load(old).words.record["corrected"] == "corrected by the crew"


def test_the_reasons_keep_their_order_in_a_journal(tmp_path: Path) -> None:
    """A journal's keys are sorted; a session that was abandoned must replay all the same."""
    folder = recorded(tmp_path)
    reasons = list(replay(folder).engine.checklist.reasons)
    assert reasons != sorted(reasons)
    assert "Call maintenance called, power lost" in transcript(load(folder))


@pytest.mark.parametrize("second", [False, True])
def test_a_toy_session_replays(tmp_path: Path, second: bool) -> None:
    session = ToySession(tmp_path, morning(), second=second)
    everything(session)
    session.end()
    assert replay(session.folder).summary is not None
