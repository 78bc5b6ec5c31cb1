"""When a recording was made, by what is known of it; the hour at which it is played says nothing.

Asked in this order: the user; the file of the same name that ends in .json, with its "recorded";
a name that is a session's, as ours are; the sound file's own date (Broadcast Wave: EBU Tech 3285;
else what libsndfile reads). Where none of them says, there is no session: findings would get
today's day of discovery, and the airframe a test that it did not have today.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Literal

import soundfile

from voicecheck.audio.riff import origination
from voicecheck.errors import VoicecheckError
from voicecheck.journal.header import SESSION_ID
from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.deferral import zone_of

KEY: Final = "recorded"
"""Of the file beside the recording: a time, or a day."""
_LONGEST_SIDE: Final = 4 * 2**20
_LOCAL: Final = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})(?:[T ]([0-9]{2}:[0-9]{2}(?::[0-9]{2})?))?"
)
_FORMS: Final = "write a time like 2026-11-25T06:15:00Z, or a day like 2026-11-25"

By = Literal["told", "beside", "name", "sound"]
"""Who says so: the user, the file beside it, its name, or the sound file itself."""


@dataclass(frozen=True, slots=True)
class Dated:
    """When a recording began, and by what that is known."""

    started: datetime
    by: By


def date_of(wav: Path, told: str | None, zone: str) -> Dated:
    """When this recording began. A day alone begins at midnight.

    told: what the user said. zone: of the operator's calendar, for what names none of its own.
    Raises VoicecheckError where nothing says so, or it is no time, or has not come yet.
    """
    if told is not None:
        return Dated(_moment(told, zone, "--recorded-at"), "told")
    if (beside := _beside(wav)) is not None:
        return Dated(_moment(beside, zone, f"{wav.with_suffix('.json')}: {KEY}"), "beside")
    if re.fullmatch(SESSION_ID, wav.stem):
        stamp = datetime.strptime(wav.stem[:16], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
        return Dated(_not_ahead(stamp, f"{wav}: its name"), "name")
    for text in (origination(wav), _tag(wav)):
        if text is not None and (moment := _read(text, zone)) is not None:
            return Dated(_not_ahead(moment, f"{wav}: the date in the file"), "sound")
    raise VoicecheckError(
        f"{wav}: nothing tells when it was recorded; add --recorded-at with the time or the day, "
        "from which the days of its findings count"
    )


def _moment(text: str, zone: str, source: str) -> datetime:
    moment = _read(text, zone)
    if moment is None:
        raise VoicecheckError(f"{source} {text[:40]!r}: no time and no day; {_FORMS}")
    return _not_ahead(moment, f"{source} {text[:40]}")


def _read(text: str, zone: str) -> datetime | None:
    """A time with its zone, a time without one, or a day; None for anything else."""
    text = text.strip()
    try:
        return parse(text)
    except VoicecheckError:
        pass
    if (match := _LOCAL.fullmatch(text)) is None:
        return None
    try:
        local = datetime.fromisoformat(f"{match[1]}T{match[2] or '00:00'}")
        return local.replace(tzinfo=zone_of(zone)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _not_ahead(moment: datetime, source: str) -> datetime:
    if moment > datetime.now(UTC):
        raise VoicecheckError(
            f"{source}: has not come yet; mend this machine's clock, or say when it was recorded "
            "with --recorded-at"
        )
    return moment


def _beside(wav: Path) -> str | None:
    """What the file beside it says; None where there is none, or it is not about that."""
    path = wav.with_suffix(".json")
    try:
        if not path.is_file() or path.stat().st_size > _LONGEST_SIDE:
            return None
        found = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    if not isinstance(found, dict) or KEY not in found:
        return None
    return str(found[KEY])


def _tag(wav: Path) -> str | None:
    """The date among the tags of the sound file."""
    try:
        with soundfile.SoundFile(wav) as file:
            return str(file.copy_metadata().get("date", "")) or None
    except (OSError, soundfile.SoundFileError):
        return None
