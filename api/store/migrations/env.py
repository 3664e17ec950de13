"""What Alembic runs: the steps on the connection that `api.store.schema` hands over."""

from __future__ import annotations

from alembic import context

from api.store.tables import metadata

__all__: list[str] = []

_connection = context.config.attributes["connection"]
context.configure(
    connection=_connection,
    target_metadata=metadata,
    render_as_batch=_connection.dialect.name == "sqlite",
    compare_type=True,
)
with context.begin_transaction():
    context.run_migrations()
