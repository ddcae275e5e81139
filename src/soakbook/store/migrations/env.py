"""Alembic's entry: runs the steps on the connection handed over, inside the transaction that has begun there."""

from __future__ import annotations

from alembic import context

from soakbook.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=True,
)
context.run_migrations()
