"""A session dated before what was filed earlier is told: its clock was behind, or it came late."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from fleet import loaded
from invented import place
from pypdf import PdfReader
from typer.testing import CliRunner

from voicecheck.cli.log import app
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.looking import context_of, history
from voicecheck.logbook.store.order import behind, newest
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.measure.invented_log import Invented
from voicecheck.session.from_log import tell

NOON = datetime(2026, 1, 26, 12, 0, tzinfo=UTC)
BEFORE = Invented("ZZ-HAA", NOON, bad=(3,), suffix="000a")
BEHIND = Invented("ZZ-HAA", NOON - timedelta(minutes=3), suffix="000b")
OTHER = Invented("ZZ-HAB", NOON - timedelta(days=9), suffix="000c")


@pytest.fixture
def filed(lite: Database, log: Path) -> Database:
    for one in (BEFORE, BEHIND, OTHER):
        post(lite, copy_of(place(log, one)))
    return lite


def call(*words: object) -> Result:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


def test_only_of_the_same_airframe_and_only_what_came_later(filed: Database) -> None:
    with filed.reading() as connection:
        found = behind(connection)
        assert {name: earlier.session for name, earlier in found.items()} == {BEHIND.id: BEFORE.id}
        assert context_of(connection, "ZZ-HAA", NOON, BEFORE.id).behind is None
        latest = newest(connection, 1)
    assert latest is not None
    assert latest.session == BEFORE.id


def test_a_sign_off_is_a_stamp_as_well(lite: Database, log: Path) -> None:
    post(lite, copy_of(place(log, BEFORE)))
    act(lite, f"{BEFORE.id}/1", Deed(Act.CLEARED, "M", NOON + timedelta(days=2), "TL 1"))
    after = Invented("ZZ-HAA", NOON + timedelta(days=1), suffix="000d")
    post(lite, copy_of(place(log, after)))
    with lite.reading() as connection:
        assert list(behind(connection)) == [after.id]


def test_it_is_told_at_the_start(filed: Database) -> None:
    language = loaded("ZZ-HAA").language
    for now, told in ((NOON - timedelta(seconds=1), True), (NOON, False)):
        with filed.reading() as connection:
            context = context_of(connection, "ZZ-HAA", now)
        prompts = [one.prompt for one in tell(context, language)]
        assert ("log-behind" in prompts) is told
        assert prompts.index("log-behind") == 0 if told else True
    # A recording is held against its own date.
    with filed.reading() as connection:
        context = context_of(connection, "ZZ-HAA", NOON + timedelta(days=9))
    assert tell(context, language, NOON - timedelta(days=1))[0].prompt == "log-behind"


def test_it_is_told_in_lists_and_reports(
    filed: Database, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "250")
    listed = " ".join(call("list", "--log", log).stdout.split())
    assert listed.count("check the date") == 1
    assert f"before {BEFORE.id}, filed earlier" in listed
    rows = {
        row["session"]: row["behind"]
        for row in json.loads(call("list", "--json", "--log", log).stdout)
    }
    assert rows[BEFORE.id] is None
    assert rows[BEHIND.id] == {"utc": "2026-01-26T12:00:00.000Z", "session": BEFORE.id}
    for one, told in ((BEHIND, True), (BEFORE, False)):
        assert call("report", one.id, "--log", log).exit_code == 0
        page = (log / one.id / "report.html").read_text("utf-8")
        assert (f"this session is dated before {BEFORE.id}" in page) is told
        assert call("report", one.id, "--format", "pdf", "--log", log).exit_code == 0
        sheets = PdfReader(io.BytesIO((log / one.id / "report.pdf").read_bytes())).pages
        printed = " ".join("".join(sheet.extract_text() for sheet in sheets).split())
        assert ("Check the date: this session is dated before" in printed) is told
    trend = log.parent / "trend.html"
    assert call("trend", "ZZ-HAA", "--log", log, "--out", trend).exit_code == 0
    assert trend.read_text("utf-8").count("check the date") == 1
    with filed.reading() as connection:
        told_ = [entry.behind is not None for entry in history(connection, "ZZ-HAA", NOON).sessions]
    assert told_ == [False, True]
