"""How the migrations run: on the connection, and in the transaction, that they are given."""

from __future__ import annotations

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    transactional_ddl=True,
    render_as_batch=True,  # SQLite changes a table by making it anew
)
context.run_migrations()
