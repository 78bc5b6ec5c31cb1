from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import format_utc, parse


# RFC 3339 section 5.8, the five examples, each with the moment its text describes.
@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57.000Z"),
        ("1990-12-31T23:59:60Z", "1990-12-31T23:59:59.999Z"),
        ("1990-12-31T15:59:60-08:00", "1990-12-31T23:59:59.999Z"),
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870Z"),
    ],
)
def test_the_examples_of_rfc_3339(text: str, written: str) -> None:
    assert format_utc(parse(text)) == written


def test_lower_case_is_read_but_never_written() -> None:
    assert format_utc(parse("1985-04-12t23:20:50.52z")) == "1985-04-12T23:20:50.520Z"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "1985-04-12",
        "1985-04-12 23:20:50Z",
        "1985-04-12T23:20:50",
        "1985-04-12T23:20:50.Z",
        "1985-04-12T23:20Z",
        "1985-02-29T00:00:00Z",
        "1985-04-12T24:00:00Z",
        "1985-04-12T23:60:00Z",
        "1985-04-12T12:30:60Z",
        "1985-04-12T23:20:61Z",
        "1985-04-12T23:20:50+24:00",
        "1985-04-12T23:20:50+00:60",
        "1985-04-12T23:20:50Z\n",
        "１985-04-12T23:20:50Z",
        "0001-01-01T00:00:00+23:00",
    ],
)
def test_everything_else_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(VoicecheckError) as caught:
        parse(text)
    assert "\n" not in str(caught.value)


def test_a_time_without_a_zone_is_not_guessed() -> None:
    with pytest.raises(ValueError, match="without a zone"):
        format_utc(datetime(2026, 11, 25, 6, 15))


@given(
    st.datetimes(min_value=datetime(1900, 1, 1), max_value=datetime(2200, 1, 1)),
    st.integers(-23 * 60, 23 * 60),
)
def test_writing_and_reading_lose_less_than_a_millisecond(moment: datetime, minutes: int) -> None:
    zoned = moment.replace(tzinfo=timezone(timedelta(minutes=minutes)))
    back = parse(format_utc(zoned))
    assert timedelta(0) <= zoned.astimezone(UTC) - back < timedelta(milliseconds=1)
