"""What Alembic runs to reach a database: the connection is handed in, and so is its transaction."""

from __future__ import annotations

from alembic import context
from sqlalchemy import Connection

from kerfwright.shop.migrations import VERSION_TABLE

connection: Connection = context.config.attributes["connection"]
context.configure(connection=connection, version_table=VERSION_TABLE)
with context.begin_transaction():
    context.run_migrations()
