"""The logbook's own chain: one entry for everything filed, each carrying the hash of the last.

An entry holds a digest of what was filed and no word of it, so that names and whole sessions
can be purged and the chain still verifies. Digests of what names a person are salted: nobody
can find the name by trying.
"""

from __future__ import annotations

import enum
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import Connection, insert, select, update

from voicecheck.errors import VoicecheckError
from voicecheck.journal.chain import FIRST, canonical, digest
from voicecheck.logbook.store.tables import entries, head


class Filed(enum.StrEnum):
    """What an entry vouches for."""

    SESSION = "session"
    ACTION = "action"
    PURGE = "purge"


@dataclass(frozen=True, slots=True)
class Entry:
    """One link. n counts from 1. subject: session id, or session/number of a finding."""

    n: int
    at: str
    kind: str
    subject: str
    digest: str
    prev: str

    @property
    def hash(self) -> str:
        """What the next link carries as `prev`."""
        return digest(canonical(asdict(self)))


def purge_of(what: str, session: str) -> dict[str, str]:
    """What an entry says of a purge. what: "names", or "session" for all of it."""
    return {"purged": what, "session": session}


Sign = Callable[[str], str]
"""An entry's hash to the signature that goes with it (see logbook.signing)."""


def lock(connection: Connection) -> None:
    """Be the one writer until the transaction ends. The first statement of every write."""
    if connection.execute(update(head).values(n=head.c.n).where(head.c.id == 1)).rowcount != 1:
        raise VoicecheckError("the logbook has lost its chain; restore it from a copy")


def coming(connection: Connection) -> int:
    """The number that the next entry gets. The caller holds the lock."""
    return int(connection.execute(select(head.c.n).where(head.c.id == 1)).scalar_one()) + 1


def append(
    connection: Connection,
    kind: Filed,
    subject: str,
    content: Mapping[str, Any],
    at: str,
    sign: Sign | None,
) -> Entry:
    """Add one entry for `content` (JSON-ready). The caller holds the lock."""
    last = connection.execute(select(head.c.n, head.c.hash).where(head.c.id == 1)).one()
    entry = Entry(last.n + 1, at, kind.value, subject, digest(canonical(content)), last.hash)
    signature = sign(entry.hash) if sign is not None else None
    connection.execute(
        insert(entries).values(**asdict(entry), hash=entry.hash, signature=signature)
    )
    connection.execute(update(head).where(head.c.id == 1).values(n=entry.n, hash=entry.hash))
    return entry


def follow(connection: Connection) -> tuple[int, str, str | None]:
    """Follow the chain from its first link: (links that hold, hash of the last one, problem)."""
    count, last = 0, FIRST
    columns = [getattr(entries.c, name) for name in Entry.__slots__]
    for row in connection.execute(select(*columns, entries.c.hash).order_by(entries.c.n)):
        entry = Entry(*row[:6])
        if entry.n != count + 1:
            return count, last, f"entry {count + 1} is missing: dropped or moved"
        if entry.prev != last or entry.hash != row.hash:
            return count, last, f"entry {entry.n} was changed, or the one before it"
        count, last = entry.n, entry.hash
    end = connection.execute(select(head.c.n, head.c.hash).where(head.c.id == 1)).one_or_none()
    if end is None or (end.n, end.hash) != (count, last):
        return count, last, "the last entries are missing, or some were added past the end"
    return count, last, None
