"""UTC as the journal writes it: RFC 3339, milliseconds, uppercase T and Z."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone

from voicecheck.errors import VoicecheckError

_FORM = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})[Tt]"
    r"([0-9]{2}):([0-9]{2}):([0-9]{2})(?:\.([0-9]+))?"
    r"(?:([Zz])|([+-])([0-9]{2}):([0-9]{2}))"
)
_REMEDY = "write it like 2026-11-25T06:15:00.000Z"


def format_utc(moment: datetime) -> str:
    """A moment with a time zone as ``2026-11-25T06:15:00.000Z``; cut, not rounded, to ms.

    Raises ValueError for a moment without a time zone: its UTC would be a guess.
    """
    if moment.utcoffset() is None:
        raise ValueError("a time without a zone cannot be written as UTC")
    utc = moment.astimezone(UTC).replace(tzinfo=None)
    return utc.isoformat(timespec="milliseconds") + "Z"


def parse(text: str) -> datetime:
    """The moment that an RFC 3339 date-time names, in UTC.

    Fractions finer than a microsecond are cut off. A leap second (:60) becomes the last
    microsecond of its minute, so that the date stays that of the entry; it is accepted
    only at 23:59 UTC, where leap seconds happen. Raises VoicecheckError for anything else.
    """
    match = _FORM.fullmatch(text)
    if match is None:
        raise VoicecheckError(f"not an RFC 3339 time: {text[:40]!r}; {_REMEDY}")
    year, month, day, hour, minute, second = (int(match[k]) for k in range(1, 7))
    micro = int((match[7] or "").ljust(6, "0")[:6])
    leap = second == 60
    if leap:
        second, micro = 59, 999_999
    try:
        moment = datetime(
            year, month, day, hour, minute, second, micro, tzinfo=_zone(match)
        ).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise VoicecheckError(f"no such time: {text[:40]!r} ({error}); {_REMEDY}") from error
    if leap and (moment.hour, moment.minute) != (23, 59):
        raise VoicecheckError(f"no such time: {text[:40]!r} (second 60); {_REMEDY}")
    return moment


def _zone(match: re.Match[str]) -> timezone:
    """The offset of a matched date-time. Raises ValueError when it is out of range."""
    if match[8]:
        return UTC
    hours, minutes = int(match[10]), int(match[11])
    if hours > 23 or minutes > 59:
        raise ValueError("offset out of range")
    offset = timedelta(hours=hours, minutes=minutes)
    return timezone(-offset if match[9] == "-" else offset)
