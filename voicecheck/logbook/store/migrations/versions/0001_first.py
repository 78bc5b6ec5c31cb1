"""The first shape: sessions and what follows from them, actions, and the chain over all."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make every table, and the chain's first state."""
    op.create_table(
        "airframes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("registration", sa.Text(), nullable=False),
        sa.Column("operator", sa.Text(), nullable=False),
        sa.Column("type", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_airframes")),
        sa.UniqueConstraint("registration", name=op.f("uq_airframes_registration")),
    )
    op.create_table(
        "checks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item", sa.Text(), nullable=False),
        sa.Column("position_name", sa.Text(), nullable=False),
        sa.Column("expected", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_checks")),
        sa.UniqueConstraint(
            "item", "position_name", "expected", name=op.f("uq_checks_item_position_name_expected")
        ),
    )
    op.create_table(
        "entries",
        sa.Column("n", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", sa.String(length=24), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("prev", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("signature", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_entries")),
    )
    op.create_table(
        "head",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_head")),
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session", sa.String(length=64), nullable=False),
        sa.Column("airframe_id", sa.Integer(), nullable=False),
        sa.Column("checklist", sa.Text(), nullable=False),
        sa.Column("started", sa.String(length=24), nullable=False),
        sa.Column("ended", sa.String(length=24), nullable=True),
        sa.Column("duration_s", sa.Float(), nullable=True),
        sa.Column("complete", sa.Boolean(), nullable=True),
        sa.Column("result", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("lines", sa.Integer(), nullable=False),
        sa.Column("head", sa.String(length=64), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("machine", sa.Text(), nullable=False),
        sa.Column("posted", sa.String(length=24), nullable=False),
        sa.Column("signature", sa.Text(), nullable=True),
        sa.Column("purged", sa.String(length=24), nullable=True),
        sa.ForeignKeyConstraint(
            ["airframe_id"], ["airframes.id"], name=op.f("fk_sessions_airframe_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("session", name=op.f("uq_sessions_session")),
    )
    op.create_index(
        op.f("ix_sessions_airframe_id_started"),
        "sessions",
        ["airframe_id", "started"],
        unique=False,
    )
    op.create_index(op.f("ix_sessions_started"), "sessions", ["started"], unique=False)
    op.create_table(
        "crews",
        sa.Column("session_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("salt", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_crews_session_id")),
        sa.PrimaryKeyConstraint("session_id", "role", name=op.f("pk_crews")),
    )
    op.create_table(
        "findings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("airframe_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("item", sa.Text(), nullable=False),
        sa.Column("position_name", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("utc", sa.String(length=24), nullable=False),
        sa.Column("chapter", sa.Text(), nullable=True),
        sa.Column("mel_item", sa.Text(), nullable=True),
        sa.Column("mel_category", sa.String(length=1), nullable=True),
        sa.Column("mel_days", sa.Integer(), nullable=True),
        sa.Column("superseded", sa.Boolean(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["airframe_id"], ["airframes.id"], name=op.f("fk_findings_airframe_id")
        ),
        sa.ForeignKeyConstraint(
            ["session_id"], ["sessions.id"], name=op.f("fk_findings_session_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_findings")),
        sa.UniqueConstraint("session_id", "ordinal", name=op.f("uq_findings_session_id_ordinal")),
    )
    op.create_index(
        op.f("ix_findings_airframe_id_item_utc"),
        "findings",
        ["airframe_id", "item", "utc"],
        unique=False,
    )
    op.create_table(
        "items",
        sa.Column("session_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ordinal", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("check_id", sa.Integer(), nullable=False),
        sa.Column("outcome", sa.String(length=14), nullable=False),
        sa.Column("called", sa.Text(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("utc", sa.String(length=24), nullable=True),
        sa.ForeignKeyConstraint(["check_id"], ["checks.id"], name=op.f("fk_items_check_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_items_session_id")),
        sa.PrimaryKeyConstraint("session_id", "ordinal", name=op.f("pk_items")),
    )
    op.create_index(op.f("ix_items_check_id"), "items", ["check_id"], unique=False)
    op.create_table(
        "journals",
        sa.Column("session_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["sessions.id"], name=op.f("fk_journals_session_id")
        ),
        sa.PrimaryKeyConstraint("session_id", name=op.f("pk_journals")),
    )
    op.create_table(
        "timings",
        sa.Column("session_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ordinal", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("airframe_id", sa.Integer(), nullable=False),
        sa.Column("item", sa.Text(), nullable=False),
        sa.Column("utc", sa.String(length=24), nullable=False),
        sa.Column("lower", sa.Float(), nullable=True),
        sa.Column("upper", sa.Float(), nullable=True),
        sa.Column("low", sa.Float(), nullable=True),
        sa.Column("high", sa.Float(), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("asked", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["airframe_id"], ["airframes.id"], name=op.f("fk_timings_airframe_id")
        ),
        sa.ForeignKeyConstraint(
            ["session_id"], ["sessions.id"], name=op.f("fk_timings_session_id")
        ),
        sa.PrimaryKeyConstraint("session_id", "ordinal", name=op.f("pk_timings")),
    )
    op.create_index(
        op.f("ix_timings_airframe_id_item_utc"),
        "timings",
        ["airframe_id", "item", "utc"],
        unique=False,
    )
    op.create_table(
        "actions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("finding_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("at", sa.String(length=24), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("category", sa.String(length=1), nullable=True),
        sa.Column("due", sa.String(length=10), nullable=True),
        sa.Column("zone", sa.Text(), nullable=True),
        sa.Column("salt", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(
            ["finding_id"], ["findings.id"], name=op.f("fk_actions_finding_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_actions")),
    )
    op.create_index(op.f("ix_actions_finding_id"), "actions", ["finding_id"], unique=False)
    op.execute(f"INSERT INTO head (id, n, hash) VALUES (1, 0, '{'0' * 64}')")


def downgrade() -> None:
    """Drop everything. What is kept in it is lost: export it first."""
    op.drop_index(op.f("ix_actions_finding_id"), table_name="actions")
    op.drop_table("actions")
    op.drop_index(op.f("ix_timings_airframe_id_item_utc"), table_name="timings")
    op.drop_table("timings")
    op.drop_table("journals")
    op.drop_index(op.f("ix_items_check_id"), table_name="items")
    op.drop_table("items")
    op.drop_index(op.f("ix_findings_airframe_id_item_utc"), table_name="findings")
    op.drop_table("findings")
    op.drop_table("crews")
    op.drop_index(op.f("ix_sessions_started"), table_name="sessions")
    op.drop_index(op.f("ix_sessions_airframe_id_started"), table_name="sessions")
    op.drop_table("sessions")
    op.drop_table("head")
    op.drop_table("entries")
    op.drop_table("checks")
    op.drop_table("airframes")
