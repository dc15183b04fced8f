"""Databases as earlier versions left them."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

from sqlalchemy import Connection, create_engine, text

from kerfwright.shop.migrations import bring_up

FORMS = Path(__file__).parent / "shop" / "forms"

FORM_1 = (FORMS / "form_1.sql").read_text(encoding="utf-8")
FORM_2 = (FORMS / "form_2.sql").read_text(encoding="utf-8")

POSTGRESQL_WORDS = {
    "DATETIME": "TIMESTAMP",
    "DOUBLE": "DOUBLE PRECISION",
    "id INTEGER NOT NULL, \n\trecorded_at": "id SERIAL NOT NULL, \n\trecorded_at",
}

ROW = re.compile(r'^INSERT INTO "?(\w+)"? VALUES.*$', re.M)

OWN_NOTES = ("record_schema", "record_migration")
"""Tables that tell the form; the migration fills them."""


def lay_down(url: str, sql: str) -> None:
    """Make a database as an earlier version left it."""
    if url.startswith("sqlite"):
        file = Path(url.removeprefix("sqlite:///"))
        file.parent.mkdir(exist_ok=True)
        with sqlite3.connect(file) as database:
            database.executescript(sql)
        return
    engine = create_engine(url)
    with engine.begin() as connection:
        if sql == FORM_1:
            for ours, theirs in POSTGRESQL_WORDS.items():
                sql = sql.replace(ours, theirs)
            connection.exec_driver_sql(sql)
            _count_on(connection, "run")
        else:
            # what a server has for triggers is another language: its migration writes them
            bring_up(connection, 0, 2)
            rows = [row for row in ROW.finditer(sql) if row[1] not in OWN_NOTES]
            for row in rows:
                connection.exec_driver_sql(row[0])
            for table in {row[1] for row in rows} - {"run_process", "shop_plan_sheet"}:
                _count_on(connection, table)
    engine.dispose()


def _count_on(connection: Connection, table: str) -> None:
    """Keys were given, so that the server's own count of them has not moved on."""
    last = f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT max(id) FROM {table}))"
    connection.execute(text(last))
