"""Which lamp a finding names, and with which entry findings and actions were filed.

The lamps follow from the journals again. A journal that cannot be read any more tells none: its
findings stand each for itself, so that none of them hides behind another.
"""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_FILED = ("sessions", "findings", "actions")


def upgrade() -> None:
    """Add the columns, and fill them from the journals and the chain."""
    for table, name in (("findings", "lamps"), ("actions", "lamp")):
        op.add_column(table, sa.Column(name, sa.Text(), nullable=True))
    for table in _FILED:
        op.add_column(table, sa.Column("filed", sa.Integer(), nullable=False, server_default="0"))
    connection = op.get_bind()
    _fill_filed(connection)
    _fill_lamps(connection)


def downgrade() -> None:
    """Drop the columns: what was filed of one lamp is then of its finding."""
    for table, name in (("actions", "lamp"), ("findings", "lamps")):
        op.drop_column(table, name)
    for table in _FILED:
        op.drop_column(table, "filed")


def _fill_filed(connection: sa.Connection) -> None:
    """A session came with its first entry; a finding may have come with the newest."""
    entries = connection.execute(
        sa.text("SELECT kind, subject, max(n), min(n) FROM entries GROUP BY kind, subject")
    ).all()
    filed = {(kind, subject): newest for kind, subject, newest, _ in entries}
    first = {subject: n for kind, subject, _, n in entries if kind == "session"}
    ours = "SELECT id, session FROM sessions"
    for number, session in connection.execute(sa.text(ours)).all():
        connection.execute(
            sa.text("UPDATE findings SET filed = :n WHERE session_id = :s"),
            {"n": filed.get(("session", session), 0), "s": number},
        )
        connection.execute(
            sa.text("UPDATE sessions SET filed = :n WHERE id = :s"),
            {"n": first.get(session, 0), "s": number},
        )
    acts = (
        "SELECT actions.id, sessions.session FROM actions JOIN findings ON "
        "findings.id = actions.finding_id JOIN sessions ON sessions.id = findings.session_id"
    )
    for number, session in connection.execute(sa.text(acts)).all():
        connection.execute(
            sa.text("UPDATE actions SET filed = :n WHERE id = :a"),
            {"n": filed.get(("action", f"{session}#{number}"), 0), "a": number},
        )


def _fill_lamps(connection: sa.Connection) -> None:
    from voicecheck.errors import VoicecheckError
    from voicecheck.journal.format import JOURNAL
    from voicecheck.journal.reader import read
    from voicecheck.logbook.sessions import from_journal
    from voicecheck.logbook.store.derive import derive
    from voicecheck.logbook.store.posting import stored_journal

    holding = (
        "SELECT DISTINCT s.id, s.session FROM sessions s JOIN findings f ON f.session_id = s.id"
    )
    for number, session in connection.execute(sa.text(holding)).all():
        path = Path(session) / JOURNAL
        try:
            rows = derive(
                from_journal(path.parent, read(path, stored_journal(connection, number)), {})
            )
        except VoicecheckError:
            continue
        for row in rows.findings:
            connection.execute(
                sa.text("UPDATE findings SET lamps = :l WHERE session_id = :s AND ordinal = :o"),
                {"l": row["lamps"], "s": number, "o": row["ordinal"]},
            )
