"""When a deferral runs out: calendar days by MEL category, the day of discovery not counted.

Categories B, C and D allow 3, 10 and 120 consecutive calendar days, not counting the day on
which the malfunction was recorded in the log (FAA MMEL Policy Letter 25, definition of repair
intervals; EASA CS-MMEL, rectification intervals). A calendar day runs from midnight to midnight,
in UTC or in local time, as the operator has chosen. Category A has what its remark says; the
airframe's data may give that as a number of calendar days. What follows from a date that has
passed, also in flight, is for the operator's MEL to say, not for this program.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from voicecheck.errors import VoicecheckError

DAYS: Final = {"B": 3, "C": 10, "D": 120}


@dataclass(frozen=True, slots=True)
class Due:
    """day: the last calendar day, in `zone`. end: the midnight that ends it, in UTC."""

    day: date
    end: datetime
    zone: str


def due(recorded: datetime, category: str, zone: str = "UTC", days: int | None = None) -> Due:
    """When an item recorded at `recorded` (with a time zone) is due.

    days: for category A, the calendar days of its remark. Raises VoicecheckError.
    """
    if category == "A" and days is None:
        raise VoicecheckError(
            "category A has no fixed interval; give the days of its remark with --days"
        )
    allowed = days if category == "A" else DAYS.get(category)
    if allowed is None:
        raise VoicecheckError(f"category {category[:10]!r} is not known; it is A, B, C or D")
    place = zone_of(zone)
    try:
        last = recorded.astimezone(place).date() + timedelta(days=allowed)
        return Due(last, end_of(last, zone), zone)
    except OverflowError as error:
        raise VoicecheckError(
            f"{allowed} days lead out of the calendar; mend the days of the remark"
        ) from error


def day_in(moment: datetime, zone: str) -> date:
    """The calendar day of a moment in `zone`; in UTC where no such zone is known here.

    zone: as a journal has it, perhaps from a machine that knew more of them.
    """
    try:
        return moment.astimezone(zone_of(zone)).date()
    except (VoicecheckError, OverflowError):
        return moment.astimezone(UTC).date()


def end_of(day: date, zone: str) -> datetime:
    """The midnight that ends `day` in `zone`, in UTC."""
    return datetime.combine(day + timedelta(days=1), time(), zone_of(zone)).astimezone(UTC)


def zone_of(name: str) -> ZoneInfo:
    """The time zone of an IANA name. Raises VoicecheckError."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise VoicecheckError(
            f"time zone {name[:40]!r} is not known; write UTC or a name like Europe/Lisbon"
        ) from error
