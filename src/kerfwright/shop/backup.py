"""All records as one JSON document, and back into an empty database of any kind.

Tables are written as they are in the database, not as the models see them, so that a backup of an
earlier form can be read back: into tables of that form, which are then brought up to date.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Date, DateTime, MetaData, Table, func, select, text
from sqlalchemy.orm import Session

from kerfwright.errors import KerfwrightError
from kerfwright.shop.database import Database
from kerfwright.shop.record_tables import SCHEMA_VERSION, SchemaRow

DOCUMENT = "kerfwright records"

RUNS = ("run", "run_process")

STOCK_AND_ORDERS = (
    "stock_lot",
    "stock_movement",
    "shop_order",
    "shop_order_step",
    "shop_plan",
    "shop_plan_sheet",
)

VERSIONS = ("machine_version", "material_version", "recipe_version")

TABLES_BY_FORM = {
    1: RUNS,
    2: (*RUNS, *STOCK_AND_ORDERS),
    3: (*RUNS, *STOCK_AND_ORDERS, *VERSIONS),
}
"""Tables of each form, those that others point to first."""


def backup_text(database: Database) -> str:
    """Return everything on record as JSON text; rows in the order of their keys."""
    with database.reading(as_it_is=True) as session:
        form = None if session is None else session.scalar(select(SchemaRow.version))
        tables = {} if session is None or form is None else _rows(session, TABLES_BY_FORM[form])
    document = {"document": DOCUMENT, "form": form or SCHEMA_VERSION, "tables": tables}
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def restore(database: Database, content: str, file: str) -> dict[str, int]:
    """Read a backup into a database without records; return how many rows each table got.

    Raises:
        KerfwrightError: ``records/no-backup`` or ``records/not-empty``; then nothing was changed.
    """
    form, tables = _document(content, file)
    with database.writing(form=form) as session:
        connection = session.connection()
        present = session.scalar(select(SchemaRow.version)) or form
        if any(
            connection.scalar(select(func.count()).select_from(table))
            for table in _reflected(connection, TABLES_BY_FORM[present]).values()
        ):
            raise KerfwrightError(
                "records/not-empty",
                file=database.place,
                thing="there are records in it already.",
                remedy="Give --records a new place, and use that from then on; records are never "
                "mixed.",
            )
        if present != form:
            raise _no_backup(file, f"it is of form {form}, and {database.place} of {present}")
        counts = _insert(connection, tables, TABLES_BY_FORM[form], file)
        database.bring_up(connection)
    return counts


def write_backup(path: Path, content: str) -> None:
    """Write a backup whole, or leave what was there.

    Raises:
        KerfwrightError: ``records/backup-not-written``.
    """
    if path.is_dir():
        raise _not_written(path, "it is a folder")
    beside = path.with_name(f"{path.name}.part")
    try:
        beside.write_text(content, encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        raise _not_written(path, error.strerror) from None


def read_backup(path: Path) -> str:
    """Read a backup's text.

    Raises:
        KerfwrightError: ``records/no-backup``.
    """
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise _no_backup(str(path), f"it cannot be read ({error.strerror})") from None
    except ValueError:
        raise _no_backup(str(path), "it is no text in UTF-8") from None


def _rows(session: Session, names: tuple[str, ...]) -> dict[str, list[dict[str, Any]]]:
    tables = _reflected(session.connection(), names)
    return {
        name: [
            {key: _written(value) for key, value in row.items()}
            for row in session.execute(
                select(table).order_by(*table.primary_key.columns)
            ).mappings()
        ]
        for name, table in tables.items()
    }


def _written(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime.date) else value


def _reflected(connection: Connection, names: tuple[str, ...]) -> dict[str, Table]:
    metadata = MetaData()
    metadata.reflect(connection, only=names)
    return {name: metadata.tables[name] for name in names}


def _insert(
    connection: Connection,
    rows: Mapping[str, list[dict[str, Any]]],
    names: tuple[str, ...],
    file: str,
) -> dict[str, int]:
    tables = _reflected(connection, names)
    for name in names:
        table = tables[name]
        read = [_read(row, table, file) for row in rows[name]]
        if read:
            connection.execute(table.insert(), read)
        if connection.dialect.name == "postgresql" and "id" in table.columns and read:
            # keys were given, so that the server's own count of them has not moved on
            connection.execute(
                text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :last)"),
                {"name": name, "last": max(row["id"] for row in read)},
            )
    return {name: len(rows[name]) for name in names}


def _read(row: Any, table: Table, file: str) -> dict[str, Any]:
    columns = {column.name: column for column in table.columns}
    if not isinstance(row, dict) or set(row) != set(columns):
        raise _no_backup(file, f"a row of {table.name} has other columns than it should")
    values = dict(row)
    for name, column in columns.items():
        try:
            if values[name] is not None and isinstance(column.type, DateTime):
                values[name] = datetime.datetime.fromisoformat(values[name])
            elif values[name] is not None and isinstance(column.type, Date):
                values[name] = datetime.date.fromisoformat(values[name])
        except (TypeError, ValueError):
            raise _no_backup(file, f"{table.name}.{name} holds no day or moment") from None
    return values


def _document(content: str, file: str) -> tuple[int, dict[str, list[dict[str, Any]]]]:
    try:
        document = json.loads(content)
    except (ValueError, RecursionError):
        raise _no_backup(file, "it is no JSON") from None
    if not isinstance(document, dict) or document.get("document") != DOCUMENT:
        raise _no_backup(file, "kerfwright backup did not write it")
    form, tables = document.get("form"), document.get("tables")
    if form not in TABLES_BY_FORM:
        raise _no_backup(file, f"it is of form {form}, and this version knows {SCHEMA_VERSION}")
    names = TABLES_BY_FORM[form]
    if tables == {}:
        tables = {name: [] for name in names}
    if not isinstance(tables, dict) or set(tables) != set(names):
        raise _no_backup(file, "tables are missing")
    if not all(isinstance(rows, list) for rows in tables.values()):
        raise _no_backup(file, "a table is no list of rows")
    return form, tables


def _not_written(path: Path, why: str | None) -> KerfwrightError:
    return KerfwrightError(
        "records/backup-not-written",
        file=str(path),
        thing=f"the backup could not be written ({why}).",
        remedy="Give the path of a file in a folder that you may write to.",
    )


def _no_backup(file: str, why: str) -> KerfwrightError:
    return KerfwrightError(
        "records/no-backup",
        file=file,
        thing=f"this is no backup that can be read: {why}.",
        remedy="Give the file that kerfwright backup wrote; one of a newer version needs that "
        "version.",
    )
