"""The first shape: sessions and what follows from them, actions, and the chain over all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_KINDS: Final[Mapping[str, Any]] = {
    "blob": sa.LargeBinary,
    "flag": sa.Boolean,
    "float": sa.Float,
    "int": sa.Integer,
    "text": sa.Text,
}
_TABLES: Final = (
    "airframes", "checks", "entries", "head", "sessions", "crews", "findings", "items",
    "journals", "timings", "actions",
)  # fmt: skip
"""Each after those that it refers to."""


def upgrade() -> None:
    """Make every table, and the chain's first state."""
    _table(
        "airframes", "id int, registration text, operator text, type text?",
        unique=["registration"],
    )  # fmt: skip
    _table(
        "checks", "id int, item text, position_name text, expected text",
        unique=["item position_name expected"],
    )  # fmt: skip
    _table(
        "entries",
        "n given, at 24, kind 10, subject text, digest 64, prev 64, hash 64, signature text?",
        key="n",
    )
    _table("head", "id given, n int, hash 64")
    _table(
        "sessions",
        "id int, session 64, airframe_id int, checklist text, started 24, ended 24?, "
        "duration_s float?, complete flag?, result text, zone text, source text, state 10, "
        "lines int, head 64, sha256 64, size int, machine text, posted 24, signature text?, "
        "purged 24?",
        unique=["session"],
        refers={"airframe_id": "airframes"},
        indexes=["airframe_id started", "started"],
    )
    _table(
        "crews", "session_id given, role 10, name text, salt 32?",
        key="session_id role", refers={"session_id": "sessions"},
    )  # fmt: skip
    _table(
        "findings",
        "id int, session_id int, airframe_id int, ordinal int, item text, position_name text, "
        "what text, utc 24, chapter text?, mel_item text?, mel_category 1?, mel_days int?, "
        "superseded flag, text text",
        unique=["session_id ordinal"],
        refers={"airframe_id": "airframes", "session_id": "sessions"},
        indexes=["airframe_id item utc"],
    )
    _table(
        "items",
        "session_id given, ordinal given, check_id int, outcome 14, called text?, reason text?, "
        "utc 24?",
        key="session_id ordinal",
        refers={"check_id": "checks", "session_id": "sessions"},
        indexes=["check_id"],
    )
    _table(
        "journals", "session_id given, data blob",
        key="session_id", refers={"session_id": "sessions"},
    )  # fmt: skip
    _table(
        "timings",
        "session_id given, ordinal given, airframe_id int, item text, utc 24, lower float?, "
        "upper float?, low float?, high float?, verdict text, asked flag",
        key="session_id ordinal",
        refers={"airframe_id": "airframes", "session_id": "sessions"},
        indexes=["airframe_id item utc"],
    )
    _table(
        "actions",
        "id int, finding_id int, kind 10, at 24, who text, reference text, note text, "
        "category 1?, due 10?, zone text?, salt 32",
        refers={"finding_id": "findings"},
        indexes=["finding_id"],
    )
    op.execute(f"INSERT INTO head (id, n, hash) VALUES (1, 0, '{'0' * 64}')")


def downgrade() -> None:
    """Drop everything. What is kept in it is lost: export it first."""
    for name in reversed(_TABLES):
        op.drop_table(name)


def _table(
    name: str,
    columns: str,
    *,
    key: str = "id",
    unique: Sequence[str] = (),
    refers: Mapping[str, str] | None = None,
    indexes: Sequence[str] = (),
) -> None:
    """One table. key, unique, indexes: columns with spaces between; refers: column to table."""
    op.create_table(
        name,
        *_columns(columns),
        *(
            sa.ForeignKeyConstraint([column], [f"{other}.id"], name=op.f(f"fk_{name}_{column}"))
            for column, other in (refers or {}).items()
        ),
        sa.PrimaryKeyConstraint(*key.split(), name=op.f(f"pk_{name}")),
        *(
            sa.UniqueConstraint(*one.split(), name=op.f(f"uq_{name}_{one.replace(' ', '_')}"))
            for one in unique
        ),
    )
    for one in indexes:
        op.create_index(op.f(f"ix_{name}_{one.replace(' ', '_')}"), name, one.split())


def _columns(told: str) -> Iterator[sa.Column[Any]]:
    """Columns from "name kind, ...": a number is a length, "?" may be NULL.

    "given" is a number that the database does not count up by itself.
    """
    for one in told.split(", "):
        name, kind = one.split()
        plain = kind.removesuffix("?")
        if plain == "given":
            yield sa.Column(name, sa.Integer(), autoincrement=False, nullable=False)
        else:
            type_ = sa.String(int(plain)) if plain.isdecimal() else _KINDS[plain]()
            yield sa.Column(name, type_, nullable=kind != plain)
