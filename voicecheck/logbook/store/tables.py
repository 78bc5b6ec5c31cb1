"""The tables. A time is RFC 3339 text in UTC with milliseconds, so that text order is time order.

Nothing here is the original: sessions, items, findings and timings follow from the journal that
is kept whole in `journals`. Only `actions` (deferred, cleared, corrected) and `entries` (the
chain over everything that was ever filed) are written here first, and both only grow.

`lamps` of a finding is a JSON list (see logbook.lamps), NULL where its journal could not be read;
`lamp` of an action is one of several. `filed` is the number of the entry with which the row first
came: the order in which the logbook learned things, which no clock can change.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

METADATA: Final = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_UTC: Final = String(24)
_HASH: Final = String(64)

airframes = Table(
    "airframes",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("registration", Text, nullable=False, unique=True),
    Column("operator", Text, nullable=False),
    Column("type", Text),
)

sessions = Table(
    "sessions",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("session", String(64), nullable=False, unique=True),
    Column("airframe_id", ForeignKey("airframes.id"), nullable=False),
    Column("checklist", Text, nullable=False),
    Column("started", _UTC, nullable=False),
    Column("ended", _UTC),
    Column("duration_s", Float),
    Column("complete", Boolean),
    Column("result", Text, nullable=False),
    Column("zone", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("state", String(10), nullable=False),
    Column("lines", Integer, nullable=False),
    Column("head", _HASH, nullable=False),
    Column("sha256", _HASH, nullable=False),
    Column("size", Integer, nullable=False),
    Column("machine", Text, nullable=False),
    Column("posted", _UTC, nullable=False),
    Column("signature", Text),
    Column("purged", _UTC),
    Column("filed", Integer, nullable=False),
    Index(None, "airframe_id", "started"),
    Index(None, "started"),
)

journals = Table(
    "journals",
    METADATA,
    Column("session_id", ForeignKey("sessions.id"), primary_key=True, autoincrement=False),
    Column("data", LargeBinary, nullable=False),
)

crews = Table(
    "crews",
    METADATA,
    Column("session_id", ForeignKey("sessions.id"), primary_key=True, autoincrement=False),
    Column("role", String(10), primary_key=True),
    Column("name", Text, nullable=False),
    Column("salt", String(32)),
)

checks = Table(
    "checks",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("item", Text, nullable=False),
    Column("position_name", Text, nullable=False),
    Column("expected", Text, nullable=False),
    UniqueConstraint("item", "position_name", "expected"),
)

items = Table(
    "items",
    METADATA,
    Column("session_id", ForeignKey("sessions.id"), primary_key=True, autoincrement=False),
    Column("ordinal", Integer, primary_key=True, autoincrement=False),
    Column("check_id", ForeignKey("checks.id"), nullable=False),
    Column("outcome", String(14), nullable=False),
    Column("called", Text),
    Column("reason", Text),
    Column("utc", _UTC),
    Index(None, "check_id"),
)

findings = Table(
    "findings",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False),
    Column("airframe_id", ForeignKey("airframes.id"), nullable=False),
    Column("ordinal", Integer, nullable=False),
    Column("item", Text, nullable=False),
    Column("position_name", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("utc", _UTC, nullable=False),
    Column("chapter", Text),
    Column("mel_item", Text),
    Column("mel_category", String(1)),
    Column("mel_days", Integer),
    Column("superseded", Boolean, nullable=False),
    Column("text", Text, nullable=False),
    Column("lamps", Text),
    Column("filed", Integer, nullable=False),
    UniqueConstraint("session_id", "ordinal"),
    Index(None, "airframe_id", "item", "utc"),
)

timings = Table(
    "timings",
    METADATA,
    Column("session_id", ForeignKey("sessions.id"), primary_key=True, autoincrement=False),
    Column("ordinal", Integer, primary_key=True, autoincrement=False),
    Column("airframe_id", ForeignKey("airframes.id"), nullable=False),
    Column("item", Text, nullable=False),
    Column("utc", _UTC, nullable=False),
    Column("lower", Float),
    Column("upper", Float),
    Column("low", Float),
    Column("high", Float),
    Column("verdict", Text, nullable=False),
    Column("asked", Boolean, nullable=False),
    Index(None, "airframe_id", "item", "utc"),
)

actions = Table(
    "actions",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("finding_id", ForeignKey("findings.id"), nullable=False),
    Column("kind", String(10), nullable=False),
    Column("at", _UTC, nullable=False),
    Column("who", Text, nullable=False),
    Column("reference", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("category", String(1)),
    Column("due", String(10)),
    Column("zone", Text),
    Column("salt", String(32), nullable=False),
    Column("lamp", Text),
    Column("filed", Integer, nullable=False),
    Index(None, "finding_id"),
)

entries = Table(
    "entries",
    METADATA,
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("at", _UTC, nullable=False),
    Column("kind", String(10), nullable=False),
    Column("subject", Text, nullable=False),
    Column("digest", _HASH, nullable=False),
    Column("prev", _HASH, nullable=False),
    Column("hash", _HASH, nullable=False),
    Column("signature", Text),
)

head = Table(
    "head",
    METADATA,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("n", Integer, nullable=False),
    Column("hash", _HASH, nullable=False),
)
