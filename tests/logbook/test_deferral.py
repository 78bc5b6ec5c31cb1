"""Due dates against worked examples of the rule, and across the world's calendars."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.errors import VoicecheckError
from voicecheck.logbook.deferral import DAYS, due

# FAA MMEL Policy Letter 25, "Repair Intervals", category B: "if it were recorded at 10 a.m. on
# January 26th, the three day interval would begin at midnight the 26th and end at midnight the
# 29th"; category C in the same way ends at midnight February 5th. (As quoted by others; the
# letter's own page was not at hand.) The rows after them are the same rule by the calendar:
# over the end of February in a common and in a leap year, and of a year.
EXAMPLES = [
    ("2026-01-26T10:00", "B", "2026-01-29"),
    ("2026-01-26T10:00", "C", "2026-02-05"),
    ("2026-01-26T10:00", "D", "2026-05-26"),
    ("2026-02-26T10:00", "B", "2026-03-01"),
    ("2026-02-26T10:00", "C", "2026-03-08"),
    ("2026-02-26T10:00", "D", "2026-06-26"),
    ("2028-02-26T10:00", "B", "2028-02-29"),
    ("2028-02-26T10:00", "C", "2028-03-07"),
    ("2028-02-26T10:00", "D", "2028-06-25"),
    ("2026-12-30T10:00", "B", "2027-01-02"),
    ("2026-12-30T10:00", "C", "2027-01-09"),
    ("2026-12-30T10:00", "D", "2027-04-29"),
]


@pytest.mark.parametrize(("recorded", "category", "day"), EXAMPLES)
@pytest.mark.parametrize("zone", ["UTC", "America/Denver", "Pacific/Auckland"])
def test_worked_examples(recorded: str, category: str, day: str, zone: str) -> None:
    moment = datetime.fromisoformat(recorded).replace(tzinfo=ZoneInfo(zone))
    found = due(moment, category, zone)
    assert found.day == date.fromisoformat(day)
    end = found.end.astimezone(ZoneInfo(zone))
    assert (end.date() - timedelta(days=1), end.hour, end.minute) == (found.day, 0, 0)


def test_the_midnight_after_the_interval_in_the_example() -> None:
    # recorded on the 26th, the 72 hours run from its midnight to midnight of the 29th
    found = due(datetime(2026, 1, 26, 10, tzinfo=UTC), "B")
    assert found.end == datetime(2026, 1, 27, tzinfo=UTC) + timedelta(hours=72)
    assert due(datetime(2026, 1, 26, tzinfo=UTC), "C").end - datetime(
        2026, 1, 27, tzinfo=UTC
    ) == timedelta(hours=240)
    assert due(datetime(2026, 1, 26, tzinfo=UTC), "D").end - datetime(
        2026, 1, 27, tzinfo=UTC
    ) == timedelta(hours=2880)


def test_the_day_is_that_of_the_operators_calendar() -> None:
    # half past midnight in Lisbon's summer is still the day before in UTC
    moment = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    assert due(moment, "B", "UTC").day == date(2026, 7, 4)
    assert due(moment, "B", "Europe/Lisbon").day == date(2026, 7, 5)


def test_a_day_may_have_23_hours() -> None:
    # clocks go forward on 29 March 2026 in Europe: three calendar days, 71 hours
    moment = datetime(2026, 3, 27, 12, tzinfo=UTC)
    found = due(moment, "B", "Europe/Lisbon")
    assert found.day == date(2026, 3, 30)
    assert found.end - datetime(2026, 3, 28, tzinfo=UTC) == timedelta(hours=71)


def test_category_a_has_the_days_of_its_remark() -> None:
    moment = datetime(2026, 1, 26, 10, tzinfo=UTC)
    assert due(moment, "A", days=1).day == date(2026, 1, 27)
    with pytest.raises(VoicecheckError, match="out of the calendar"):
        due(datetime(2026, 1, 26, tzinfo=UTC), "A", days=10**8)
    with pytest.raises(VoicecheckError, match="category A has no fixed interval"):
        due(moment, "A")


@pytest.mark.parametrize(("category", "zone"), [("E", "UTC"), ("", "UTC"), ("B", "Mars/Olympus")])
def test_what_is_not_known_is_refused(category: str, zone: str) -> None:
    with pytest.raises(VoicecheckError, match="not known"):
        due(datetime(2026, 1, 26, tzinfo=UTC), category, zone)


@given(
    st.datetimes(datetime(2000, 1, 1), datetime(2090, 1, 1), timezones=st.just(UTC)),
    st.sampled_from(sorted(DAYS)),
    st.sampled_from(["UTC", "Asia/Kathmandu", "America/St_Johns", "Pacific/Kiritimati"]),
)
def test_the_interval_is_whole_days_after_the_day_of_discovery(
    moment: datetime, category: str, zone: str
) -> None:
    found = due(moment, category, zone)
    there = moment.astimezone(ZoneInfo(zone)).date()
    assert (found.day - there).days == DAYS[category]
    left = found.end - moment
    assert timedelta(days=DAYS[category]) - timedelta(hours=2) < left
    assert left <= timedelta(days=DAYS[category] + 1) + timedelta(hours=2)
