"""What the logbook has to say before a session: open items, days due, windows that drift.

Looked up beside the loading of the listeners, so that it costs no time. A logbook that does not
answer in time is told as such: silence must never stand for "nothing open".
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import parse
from voicecheck.language import Language
from voicecheck.logbook.signing import signer_from

if TYPE_CHECKING:
    from voicecheck.logbook.context import Context

PATIENCE_S: Final = 6.0
"""How long a session waits for the logbook before it begins without."""
MOST: Final = 6
"""Items that are read out one by one; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Told:
    """A prompt of the language and the values of its slots."""

    prompt: str
    values: Mapping[str, str] = field(default_factory=dict)


class FromLog:
    """Begins to look as soon as it is made. dated: when the session was, if that is not now."""

    def __init__(
        self,
        log: Path,
        url: str | None,
        registration: str,
        language: Language,
        key: Path | None = None,
        dated: datetime | None = None,
    ) -> None:
        self._log, self._url, self._registration, self._key = log, url, registration, key
        self._told: Sequence[Told] | None = None
        self._language = language
        self._dated = dated
        self.problem: str | None = None
        self._thread = threading.Thread(target=self._look, name="from-log", daemon=True)
        self._thread.start()

    def told(self) -> Sequence[Told]:
        """What to read out; at most PATIENCE_S later."""
        self._thread.join(PATIENCE_S)
        if self._told is None:
            self.problem = self.problem or self._language.words(
                "notice-log-slow", seconds=f"{PATIENCE_S:.0f}"
            )
            return [Told("log-away")]
        return self._told

    def _look(self) -> None:
        try:
            context = look(self._log, self._url, self._registration, datetime.now(UTC), self._key)
            told = tell(context, self._language, self._dated) if context is not None else []
            self._told = told
        except (VoicecheckError, OSError) as error:
            self.problem = str(error)
        except Exception as error:  # whatever it is, the session goes on and says so
            self.problem = f"{type(error).__name__}: {error}"


def look(
    log: Path, url: str | None, registration: str, now: datetime, key: Path | None = None
) -> Context | None:
    """The airframe's state as filed, after filing what still waited; None for a new airframe.

    key: signs what is filed, where there is such a file.
    """
    # Late: a session whose logbook is elsewhere or empty starts without these.
    from voicecheck.logbook.store.database import open_database
    from voicecheck.logbook.store.delivery import deliver
    from voicecheck.logbook.store.looking import context_of
    from voicecheck.logbook.store.reading import known

    if url is None and not log.exists():
        return None
    database = open_database(url, log)
    try:
        signer = signer_from(key) if key is not None else None
        deliver(log, database, signer.sign_entry if signer is not None else None)
        with database.reading() as connection:
            if not known(connection, registration):
                return None
            return context_of(connection, registration, now)
    finally:
        database.close()


def tell(context: Context, language: Language, dated: datetime | None = None) -> list[Told]:
    """Prompts in the order of their weight: a wrong date, past due, deferred, open, drifting.

    dated: when the session was, if that is not now.
    """
    from voicecheck.logbook.discrepancies import brief
    from voicecheck.logbook.open_items import what_of
    from voicecheck.logbook.trend.series import drift

    def weight(index: int) -> tuple[int, str]:
        entry = context.standing[index]
        return (0 if entry.overdue(context.now) else 1 if entry.due else 2, entry.first.utc)

    order = sorted(range(len(context.standing)), key=weight)
    told = []
    if is_behind(context, dated or context.now):
        told.append(Told("log-behind"))
    for index in order[:MOST]:
        entry = context.standing[index]
        values = {
            "position": entry.last.position_name,
            "what": brief(what_of(entry, language.words)),
        }
        if entry.due is None:
            days = entry.days_open(context.now)
            if days > 0:
                told.append(Told("log-open", {**values, "days": str(days)}))
            else:
                told.append(Told("log-open-today", values))
        elif entry.overdue(context.now):
            told.append(
                Told(
                    "log-past-due", {**values, "due": language.day(entry.due.month, entry.due.day)}
                )
            )
        else:
            told.append(
                Told("log-due", {**values, "due": language.day(entry.due.month, entry.due.day)})
            )
        if entry.repeats is not None:
            told.append(Told("log-repeat", values))
    if len(order) > MOST:
        told.append(Told("log-more", {"count": str(len(order) - MOST)}))
    for trend in context.trends:
        found = drift(trend, context.now)
        if found is not None:
            told.append(
                Told(
                    "log-drift",
                    {
                        "item": found.item.replace(".", " ").replace("-", " "),
                        "direction": language.words(found.direction),
                        "now": f"{found.now:.1f}",
                        "limit": f"{found.limit:g}",
                        "days": f"{found.days:.0f}",
                    },
                )
            )
    return told


def is_behind(context: Context, dated: datetime) -> bool:
    """Whether a session of this date would be dated before what is filed of the airframe."""
    return context.newest is not None and dated < parse(context.newest.utc)
