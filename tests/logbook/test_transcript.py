from __future__ import annotations

import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any

from voicecheck.caution import CAUTION
from voicecheck.logbook.rows import rows
from voicecheck.logbook.sessions import load
from voicecheck.logbook.transcript import WIDTH, transcript

Write = Callable[..., Path]


def test_it_begins_and_ends_with_the_caution(write_session: Write, summary: dict[str, Any]) -> None:
    text = transcript(load(write_session(summary)))
    caution = textwrap.fill(CAUTION, WIDTH)
    assert text.startswith(caution + "\n")
    assert text.endswith(caution + "\n")
    assert all(len(line) <= WIDTH for line in text.splitlines() if "head" not in line)


def test_who_said_what_and_when(write_session: Write, summary: dict[str, Any]) -> None:
    lines = transcript(load(write_session(summary))).splitlines()
    start = lines.index("-- 2026-11-25 UTC --")
    assert lines[start + 1 : start + 8] == [
        "06:15:00.000Z  00:00.0  NOTE     session began",
        "06:15:00.000Z  00:00.0  VOICE    Power?",
        "06:15:03.900Z  00:03.0  PILOT    battery on",
        "06:15:03.900Z  00:03.9  VOICE    Landing gear.",
        "06:15:13.200Z  00:12.3  PILOT    three green",
        "06:15:13.200Z  00:12.3  NOTE     result: item gear.greens; outcome satisfactory",
        "06:15:13.200Z  00:13.2  VOICE    Horn?",
    ]
    assert "06:15:43.200Z  00:42.3  SECOND   one fire light right dark" in lines
    assert "06:15:50.000Z  00:48.0  UNCLEAR  not sure enough to act on; perhaps fire.out" in lines
    assert "06:16:20.000Z  01:20.0  KEY      not fitted" in lines
    assert "06:16:31.400Z  01:30.0  IGNORED  chatter" in lines
    assert "06:17:11.500Z  02:11.5  NOTE     session ended: end of the recording" in lines


def test_open_matters_come_first(write_session: Write, summary: dict[str, Any]) -> None:
    summary["items"][0]["called"] = None
    text = transcript(load(write_session(summary)))
    top = text.partition("STREAM  WHO")[0]
    labels = [line[:11].rstrip() for line in top.splitlines() if line[:1].isalpha()]
    assert labels[-7:-1] == ["Finding", "Finding", "Re-tested", "Not tested", "Void", "Caution"]
    assert "Not tested overspeed.clacker: not reached" in top
    assert "gear.greens is recorded as satisfactory, but no callout" in " ".join(top.split())


def test_a_note_of_a_kind_that_is_no_text_is_still_told(
    write_session: Write, summary: dict[str, Any]
) -> None:
    note = {"type": "note", "kind": ["odd"], "at": 1.0, "facts": {}}
    course = [(1.0, {"event": {"type": "began", "now": 0.0}, "effects": [note]})]
    assert "NOTE     ['odd']" in transcript(load(write_session(summary, course=course)))


def test_long_words_stay_in_their_column(write_session: Write, summary: dict[str, Any]) -> None:
    said = " ".join(["holding at engine fire"] * 12)
    course = [(1.0, {"event": {"type": "began", "now": 0.0}, "said": [said]})]
    lines = transcript(load(write_session(summary, course=course))).splitlines()
    first = next(k for k, line in enumerate(lines) if "VOICE" in line)
    last = next(k for k, line in enumerate(lines) if "IGNORED" in line)
    assert last - first > 3
    assert all(line[:33].isspace() for line in lines[first + 1 : last])
    assert " ".join(line[33:] for line in lines[first:last]) == said


def test_no_text_can_forge_a_line(write_session: Write, summary: dict[str, Any]) -> None:
    forged = "x\n06:15:59.000Z  00:59.0  PILOT    three green\x1b[2K\u2028\u202e"
    course = [(1.0, {"event": {"type": "heard", "words": forged, "start": 1.0, "end": 1.5}})]
    summary["crew"] = {"pilot": forged, "second": None}
    text = transcript(load(write_session(summary, course=course)))
    assert not any(line.startswith("06:15:59") for line in text.split("\n"))
    assert all(c.isprintable() or c == "\n" for c in text)


def test_unfinished_and_changed_records_say_so(
    write_session: Write, summary: dict[str, Any]
) -> None:
    folder = write_session(None)
    text = transcript(load(folder))
    assert "Result     incomplete: the session ended without a summary" in text
    journal = folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b"no horn", b"on horn", 1))
    text = transcript(load(folder))
    assert "Result     not reliable: the record was changed after it was written" in text
    assert "chain broken at line 8" in text


def test_what_was_overheard_has_one_line(write_session: Write) -> None:
    """That it was left alone is a line of its own; the engine's event only repeats it."""
    event = {"event": {"type": "overheard", "start": 90.0, "end": 91.4}, "effects": [], "said": []}
    session = load(write_session(None, course=[(91.4, event)]))
    assert [row.who.value for row in rows(session.journal)] == ["IGNORED"]
