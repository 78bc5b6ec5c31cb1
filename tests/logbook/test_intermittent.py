"""A fault that came and went: open in the logbook, and told wherever the session is told."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cockpit import Cockpit

from voicecheck.cli.outcome import heading
from voicecheck.engine.events import Ended, KeyPressed
from voicecheck.errors import Place
from voicecheck.logbook.outcome import contradictions, result_line
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import load
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.store.reading import of_airframe
from voicecheck.logbook.summary import summary_from
from voicecheck.logbook.transcript import transcript
from voicecheck.session.replay import replay
from voicecheck.session.result import EXIT_FINDINGS, exit_status

CALLS = ("power:battery:on", "power:avionics:off", "command:affirm", "select:gear",
         "gear.greens:2", "gear.greens:dark-1", "select:stall", "select:gear", "gear.greens:3",
         "command:affirm")  # fmt: skip
SAME_VISIT = (*CALLS[:6], *CALLS[8:])
MARK = "LEFT dark (intermittent, re-tested)"


def called(folder: Path, calls: tuple[str, ...] = CALLS, *, ended: bool = True) -> Path:
    """The folder of a session of ZZ-HAA in which these were entered."""
    cockpit = Cockpit(folder, registration="ZZ-HAA")
    for at, callout in enumerate(calls, 1):
        cockpit.conductor.handle(KeyPressed(callout, at * 2.0))
    if ended:
        cockpit.conductor.handle(Ended(len(calls) * 2.0 + 2, "the test is over"))
    cockpit.record.close()
    return cockpit.folder


def test_it_is_open_in_the_logbook(book: Database, log: Path) -> None:
    post(book, copy_of(called(log)))
    with book.reading() as connection:
        (found,) = of_airframe(connection, "ZZ-HAA")
    assert (found.first.item, found.status.value) == ("gear.greens", "open")
    assert found.first.what == MARK
    assert "Intermittent: called as expected when it was tested again." in found.first.text


def test_one_that_broke_off_hides_it_no_more(book: Database, log: Path) -> None:
    post(book, copy_of(called(log, ended=False)))
    with book.reading() as connection:
        (found,) = of_airframe(connection, "ZZ-HAA")
    assert found.first.what == MARK
    assert MARK in found.first.text


@pytest.mark.parametrize("ended", [True, False])
def test_a_miscount_bettered_in_its_visit_is_not(book: Database, log: Path, ended: bool) -> None:
    post(book, copy_of(called(log, SAME_VISIT, ended=ended)))
    with book.reading() as connection:
        assert of_airframe(connection, "ZZ-HAA") == []


def test_the_record_tells_it_and_does_not_contradict_itself(tmp_path: Path) -> None:
    session = load(called(tmp_path))
    assert session.summary is not None
    assert contradictions(session.summary) == []
    assert result_line(session.summary).startswith("1 finding, 1 of them intermittent, ")
    assert MARK in transcript(session)
    page = report(session)
    assert MARK in page
    assert page.count("open until maintenance has seen to it") == 2  # the finding, the item


def test_the_end_of_a_run_is_not_plainly_satisfactory(tmp_path: Path) -> None:
    summary = replay(called(tmp_path)).summary
    assert summary is not None
    assert "1" in heading(summary).split("ZZ-HAA")[1]
    assert exit_status({**summary, "complete": True}) == EXIT_FINDINGS


def test_a_summary_from_before_has_none(summary: dict[str, Any]) -> None:
    read = summary_from(summary, Place("test"))
    assert not any(finding.intermittent for finding in read.findings)
    assert "intermittent" not in result_line(read)
