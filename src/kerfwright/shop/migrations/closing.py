"""Closes a table whose rows are only ever added."""

from __future__ import annotations

from alembic import op


def close(table: str) -> None:
    """Have the database itself refuse to change or take out rows of a table, where it can."""
    dialect = op.get_context().dialect.name
    said = f"rows of {table} are never changed"
    if dialect == "sqlite":
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_{change.lower()} BEFORE {change} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
            )
    elif dialect == "postgresql":
        op.execute(
            f"CREATE FUNCTION {table}_stays() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{said}'; END $$"
        )
        op.execute(
            f"CREATE TRIGGER {table}_stays BEFORE UPDATE OR DELETE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {table}_stays()"
        )
