"""Times, spans and power in words, the same in every report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.summary import Finding, Item, Past
from voicecheck.words import say, spoken


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
    return say("time-there", time=text, there=f"{day}{there:%H:%M}", zone=clean(zone))


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
    """In English ``4 min 05 s``; a part of a second is left out."""
    whole = int(seconds)
    if whole < 60:
        return say("span-seconds", seconds=whole)
    return say("span-minutes", minutes=whole // 60, seconds=f"{whole % 60:02d}")


def figure(value: float, places: int = 2) -> str:
    """A number with so many decimals."""
    return f"{value:.{places}f}".replace(".", say("decimal"))


def joined(parts: Iterable[str]) -> str:
    """The entries of a list."""
    return say("comma").join(parts)


def called(entry: Past | Item | Finding) -> str:
    """What was called, and by whom where that is known."""
    if entry.called is None:
        return say("nothing")
    if entry.by is None:
        return entry.called
    return say("called-by", called=entry.called, who=named("by", entry.by))


def named(kind: str, value: str) -> str:
    """The word for an identifier of the record, such as outcome, verdict or state of a bus.

    What no language words (a journal from elsewhere) stands as it is.
    """
    key = f"{kind}-{value.replace(' ', '-')}" if kind else value
    return say(key) if spoken().has(key) else value


def power(state: Mapping[str, str]) -> str:
    """In English ``battery on, avionics off``."""
    told = (say("bus-state", bus=bus, state=named("", on)) for bus, on in state.items())
    return joined(told) or say("no-power")


def allowed(lower: float | None, upper: float | None) -> str:
    """The window that was allowed, in seconds."""
    if lower is not None and upper is not None:
        return say("allowed-between", lower=figure(lower), upper=figure(upper))
    if upper is not None:
        return say("allowed-most", upper=figure(upper))
    return say("allowed-any") if lower is None else say("allowed-least", lower=figure(lower))


def measured(low: float | None, high: float | None) -> str:
    """What was measured, with its uncertainty, in seconds."""
    if low is not None and high is not None:
        middle, half = figure((low + high) / 2), figure((high - low) / 2)
        return say("measured-between", low=figure(low), high=figure(high), middle=middle, half=half)
    if low is not None:
        return say("measured-more", low=figure(low))
    return say("measured-not") if high is None else say("measured-less", high=figure(high))
