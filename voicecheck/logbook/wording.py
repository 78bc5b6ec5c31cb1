"""Times, spans and power in words, the same in every report."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import parse


def printable(text: str) -> str:
    """What does not print (line breaks, controls, direction marks) becomes a space.

    Names and callouts come from outside; none may forge a line or turn a word round.
    """
    return "".join(c if c.isprintable() else " " for c in text)


def clean(text: str) -> str:
    """Printable text on one line, with single spaces."""
    return " ".join(printable(text).split())


def moment(utc: str, zone: str = "UTC") -> str:
    """A time as ``2026-11-25T06:17:02Z`` (RFC 3339); as it stands if it is none.

    zone: IANA name; where it is not UTC, the time there follows in brackets.
    """
    try:
        found = parse(utc)
    except VoicecheckError:
        return clean(utc)
    text = found.strftime("%Y-%m-%dT%H:%M:%SZ")
    there = local(found, zone)
    if there is None:
        return text
    day = "" if there.date() == found.date() else f"{there:%Y-%m-%d} "
    return f"{text} ({day}{there:%H:%M} {clean(zone)})"


def local(utc: datetime, zone: str) -> datetime | None:
    """The wall clock in `zone`; None for UTC itself and for a zone that is not known."""
    if zone == "UTC":
        return None
    try:
        return utc.astimezone(ZoneInfo(zone))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def stream(seconds: float) -> str:
    """Stream time as minutes and seconds, ``02:03.4``; cut to the tenth."""
    tenths = int(seconds * 10 + 1e-6)
    return f"{tenths // 600:02d}:{tenths % 600 / 10:04.1f}"


def duration(seconds: float) -> str:
    """``4 min 05 s``; a part of a second is left out."""
    whole = int(seconds)
    return f"{whole // 60} min {whole % 60:02d} s" if whole >= 60 else f"{whole} s"


def power(state: Mapping[str, str]) -> str:
    """``battery on, avionics off``."""
    return ", ".join(f"{bus} {on}" for bus, on in state.items()) or "none stated"


def allowed(lower: float | None, upper: float | None) -> str:
    """The window that was allowed, in seconds."""
    if lower is not None and upper is not None:
        return f"{lower:.2f} to {upper:.2f} s"
    if upper is not None:
        return f"at most {upper:.2f} s"
    return "no limit" if lower is None else f"at least {lower:.2f} s"


def measured(low: float | None, high: float | None) -> str:
    """What was measured, with its uncertainty, in seconds."""
    if low is not None and high is not None:
        return f"{low:.2f} to {high:.2f} s ({(low + high) / 2:.2f} ± {(high - low) / 2:.2f} s)"
    if low is not None:
        return f"more than {low:.2f} s"
    return "not measured" if high is None else f"less than {high:.2f} s"
