"""The logbook's measurement: it fills what it says, and never a logbook that is in use."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from invented import place
from sqlalchemy import func, select

from voicecheck.errors import VoicecheckError
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.database import Database, open_database
from voicecheck.logbook.store.ledger import follow
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.measure.invented_log import Invented
from voicecheck.measure.logbook_fill import fill, registration
from voicecheck.measure.logbook_growth import QUESTIONS, measure_logbook


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path}/shared.sqlite"


def sessions(database: Database) -> int:
    with database.reading() as connection:
        return connection.execute(select(func.count()).select_from(t.sessions)).scalar_one()


def test_a_logbook_that_holds_something_is_left_alone(url: str, tmp_path: Path) -> None:
    database = open_database(url, tmp_path)
    one = Invented("ZZ-HAA", datetime(2026, 11, 25, tzinfo=UTC))
    post(database, copy_of(place(tmp_path / "log", one)))
    with pytest.raises(VoicecheckError, match="with 1 entries; name an empty database"):
        measure_logbook((200,), url)
    assert sessions(database) == 1
    database.close()


def test_sizes_that_do_not_grow_are_refused() -> None:
    for sizes in ((300, 200), (200, 200)):
        with pytest.raises(VoicecheckError, match="smallest first"):
            measure_logbook(sizes)


def test_a_filled_logbook_is_chained_and_goes_on(url: str, tmp_path: Path) -> None:
    database = open_database(url, tmp_path)
    fill(database, 0, 110)
    fill(database, 110, 150)
    new = Invented(registration(3), datetime(2026, 11, 25, tzinfo=UTC))
    post(database, copy_of(place(tmp_path / "log", new)))
    assert sessions(database) == 151
    with database.reading() as connection:
        links, _, problem = follow(connection)
    assert (links, problem) == (151, None)
    database.close()


def test_the_table_answers_every_question(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicecheck.measure.logbook_growth.REPEATS", 1)
    table = measure_logbook((4,))
    (row,) = table.rows
    answers = dict(zip(table.columns, row, strict=True))
    assert answers["sessions"] == 4
    assert all(re.fullmatch(r"\d+\.\d{3} \(\d+\.\d{3}\)", str(answers[q])) for q in QUESTIONS)
