"""Alembic's entry: migrate over the connection that `service.records.migrate` hands in."""

from __future__ import annotations

from alembic import context

from service.records.tables import Table

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Table.metadata,
    render_as_batch=True,  # SQLite cannot alter a column in place
)
context.run_migrations()
