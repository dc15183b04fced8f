"""Databases as earlier versions left them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy import create_engine

FORM_1 = (Path(__file__).parent / "shop" / "forms" / "form_1.sql").read_text(encoding="utf-8")

POSTGRESQL_WORDS = {
    "DATETIME": "TIMESTAMP",
    "DOUBLE": "DOUBLE PRECISION",
    "id INTEGER NOT NULL, \n\trecorded_at": "id SERIAL NOT NULL, \n\trecorded_at",
}


def lay_down(url: str, sql: str) -> None:
    """Make a database as an earlier version left it."""
    if url.startswith("sqlite"):
        file = Path(url.removeprefix("sqlite:///"))
        file.parent.mkdir(exist_ok=True)
        with sqlite3.connect(file) as database:
            database.executescript(sql)
        return
    for ours, theirs in POSTGRESQL_WORDS.items():
        sql = sql.replace(ours, theirs)
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.exec_driver_sql(sql)
        connection.exec_driver_sql("SELECT setval(pg_get_serial_sequence('run', 'id'), 3)")
    engine.dispose()
