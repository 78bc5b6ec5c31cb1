"""Alembic's way in: the connection and its transaction belong to the caller."""

from __future__ import annotations

from alembic import context

from voicecheck.logbook.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,
    transactional_ddl=False,
)
context.run_migrations()
