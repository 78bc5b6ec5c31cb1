"""Whatever a journal holds: it is read, or refused by one line; a change never goes unseen."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from cockpit import Cockpit
from fuzzing import for_long, quick, spoilt_bytes, spoilt_data, watched
from hypothesis import given
from hypothesis import strategies as st
from invented import place

from voicecheck.errors import VoicecheckError
from voicecheck.journal.reader import read, verify
from voicecheck.logbook.captions import captions
from voicecheck.logbook.integrity import verify_session
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import Session, load, sessions
from voicecheck.logbook.store.derive import derive
from voicecheck.logbook.transcript import transcript
from voicecheck.measure.invented_log import Invented, chained, journal_of
from voicecheck.session.replay import replay
from voicecheck.session.review import Review

START = datetime(2026, 11, 25, 6, 15, tzinfo=UTC)
CREW = (journal_of(Invented("ZZ-HAA", START, pilot="Ada"))[1] or "").encode()
BESIDE = ("crew.json", "annotations.jsonl", "summary.json", "head.sig")
Kept = tuple[str, float, dict[str, Any]]


@pytest.fixture(scope="module")
def real() -> Iterator[tuple[Path, list[Kept]]]:
    """A session's folder, and the lines of its journal without what chains them."""
    with tempfile.TemporaryDirectory() as name:
        cockpit = Cockpit(Path(name))
        cockpit.wait(1)
        for words in (
            "battery on",
            "affirm",
            "going to gear",
            "three green",
            "one red",
            "horn sounding",
        ):
            cockpit.say(words)
        cockpit.say("going to reversers")
        cockpit.say("left side two")
        cockpit.close()
        lines = [
            (line["kind"], float(number), {
                key: value for key, value in line.items()
                if key not in ("n", "prev", "kind", "utc", "seal")
            })
            for number, line in enumerate(cockpit.lines())
        ]  # fmt: skip
        yield cockpit.folder, lines


def looked_at(folder: Path) -> None:
    """Everything that looks at a session's folder."""
    try:
        session = load(folder)
    except VoicecheckError as error:
        one_line(error)
        session = None
    if session is not None:
        for look in (transcript, report, captions, derive):
            try:
                look(session)
            except VoicecheckError as error:
                one_line(error)
    for entry in sessions(folder.parent):
        assert isinstance(entry, Session) or entry.problem
    for ask in (verify_session, replay):
        try:
            ask(folder)
        except VoicecheckError as error:
            one_line(error)
    review = Review(folder.parent)
    assert isinstance(review.sessions(), list)
    try:
        shown = dict(review.session(folder.name))
        del shown["words"]  # for the page's template alone
        json.dumps(shown)
    except VoicecheckError as error:
        one_line(error)


def one_line(error: VoicecheckError) -> None:
    assert len(str(error).splitlines()) == 1, str(error)
    assert len(str(error)) < 3000


@for_long
@quick
@given(st.data())
def test_a_journal_chained_again_after_a_change(
    real: tuple[Path, list[Kept]], data: st.DataObject
) -> None:
    """The chain holds, so nothing but the content speaks against it."""
    folder, lines = real
    at = data.draw(st.sampled_from([0, len(lines) - 1, *range(len(lines))]))
    kind, when, fields = lines[at]
    changed = [*lines]
    changed[at] = (kind, when, data.draw(spoilt_data(fields)))
    if not isinstance(changed[at][2], dict):
        changed[at] = (kind, when, {"event": changed[at][2]})
    try:
        content = chained(START, changed)
    except (ValueError, TypeError):
        return  # what JSON cannot hold
    (folder / "journal.jsonl").write_bytes(content)
    with watched():
        looked_at(folder)


@for_long
@quick
@given(st.data())
def test_a_summary_chained_again_after_a_change(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = place(Path(name), Invented("ZZ-HAA", START, bad=(2,)))
        raw = [json.loads(line) for line in (folder / "journal.jsonl").read_bytes().splitlines()]
        own = ("n", "prev", "kind", "utc", "seal")
        lines = [
            (line["kind"], 1.0, {key: line[key] for key in line if key not in own}) for line in raw
        ]
        lines[-1] = ("summary", 9.0, {"summary": data.draw(spoilt_data(lines[-1][2]["summary"]))})
        try:
            (folder / "journal.jsonl").write_bytes(chained(START, lines))
        except (ValueError, TypeError):
            return
        with watched():
            looked_at(folder)


@for_long
@quick
@given(st.data())
def test_spoilt_bytes(real: tuple[Path, list[Kept]], data: st.DataObject) -> None:
    folder, lines = real
    whole = chained(START, lines)
    content = data.draw(spoilt_bytes(whole))
    (folder / "journal.jsonl").write_bytes(content)
    with watched():
        looked_at(folder)
        assert verify(folder / "journal.jsonl").ok == (content == whole)


@for_long
@quick
@given(st.binary(max_size=400))
def test_bytes_for_a_journal(real: tuple[Path, list[Kept]], content: bytes) -> None:
    folder, _ = real
    (folder / "journal.jsonl").write_bytes(content)
    with watched():
        looked_at(folder)
        with pytest.raises(VoicecheckError):
            read(folder / "journal.jsonl")


@for_long
@quick
@given(st.data())
def test_what_stands_beside_a_journal(real: tuple[Path, list[Kept]], data: st.DataObject) -> None:
    """Crew and remarks are files of their own, and may be anything."""
    folder, lines = real
    made = {
        name: data.draw(st.one_of(st.binary(max_size=80), spoilt_bytes(CREW)))
        for name in sorted(data.draw(st.sets(st.sampled_from(BESIDE), min_size=1)))
    }
    (folder / "journal.jsonl").write_bytes(chained(START, lines))
    for name, content in made.items():
        (folder / name).write_bytes(content)
    try:
        with watched():
            looked_at(folder)
    finally:
        for name in BESIDE:
            (folder / name).unlink(missing_ok=True)
