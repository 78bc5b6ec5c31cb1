"""A day is one of the operator's calendar, wherever it is told or counted."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from fleet import loaded
from invented import place

from voicecheck.logbook.deferral import day_in
from voicecheck.logbook.export import discrepancy_row
from voicecheck.logbook.open_items import line_of
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.looking import context_of
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.trend.chart import chart
from voicecheck.logbook.trend.words import sentences
from voicecheck.measure.invented_log import Invented
from voicecheck.session.from_log import tell

ZONE = "Pacific/Auckland"
LATE = datetime(2026, 1, 26, 12, 30, tzinfo=UTC)
"""Half past one at night on 27 January there."""


@pytest.fixture
def session(lite: Database, log: Path) -> str:
    for days in range(7):
        one = Invented("ZZ-HAA", LATE + timedelta(days=days), bad=(3,) * (days == 0), zone=ZONE)
        post(lite, copy_of(place(log, one)))
    return Invented("ZZ-HAA", LATE).id


def test_the_day_of_discovery(lite: Database, session: str) -> None:
    with lite.reading() as connection:
        context = context_of(connection, "ZZ-HAA", LATE + timedelta(days=1))
    (entry,) = context.standing
    assert entry.first.day == date(2026, 1, 27)
    assert "open since 2026-01-27" in line_of(entry, LATE)
    row = discrepancy_row(entry, LATE)
    assert (row["found"], row["zone"], row["first"][:10]) == ("2026-01-27", ZONE, "2026-01-26")


@pytest.mark.parametrize(
    ("now", "days"),
    [
        (datetime(2026, 1, 27, 10, 59, tzinfo=UTC), "today"),  # 23:59 of the same day there
        (datetime(2026, 1, 27, 11, 0, tzinfo=UTC), "Open 1 days"),  # midnight there
        (datetime(2026, 1, 28, 10, 59, tzinfo=UTC), "Open 1 days"),
    ],
)
def test_the_days_that_are_read_out(lite: Database, session: str, now: datetime, days: str) -> None:
    with lite.reading() as connection:
        context = context_of(connection, "ZZ-HAA", now)
    language = loaded("ZZ-HAA").language
    said = [language.render(one.prompt, one.values) for one in tell(context, language)]
    assert any(days in text for text in said)


def test_days_of_actions_and_trends(lite: Database, session: str) -> None:
    at = LATE + timedelta(days=1)
    done = act(lite, f"{session}/1", Deed(Act.DEFERRED, "M. Dipper", at, "TL 1"))
    assert done["due"] == "2026-02-06"  # ten days after the 27th
    act(lite, f"{session}/1", Deed(Act.CLEARED, "M. Dipper", at, "TL 2"))
    with lite.reading() as connection:
        context = context_of(connection, "ZZ-HAA", at, session)
        from voicecheck.logbook.store.reading import of_airframe

        (entry,) = of_airframe(connection, "ZZ-HAA")
    assert "cleared 2026-01-28 by M. Dipper" in line_of(entry, at)
    (trend,) = context.trends
    assert " on 2026-02-02, " in " ".join(sentences(trend))
    picture = chart(trend)
    assert picture is not None
    assert "from 2026-01-27 to 2026-02-02" in picture.text


def test_a_zone_that_is_not_known_here_counts_in_utc() -> None:
    assert day_in(LATE, "Nowhere/At-All") == date(2026, 1, 26)
