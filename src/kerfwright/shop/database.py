"""The shop's database: by default one small file in the user's folder, else any database URL.

Every change is one transaction: it is there whole or not at all, whenever the power fails. Reading
makes no file and changes nothing; whoever writes brings an older form of the tables up to date
first, in the same transaction.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import platformdirs
from sqlalchemy import Connection, Engine, create_engine, event, inspect, select, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, IntegrityError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.orm import Session

from kerfwright.errors import KerfwrightError
from kerfwright.shop.record_tables import SCHEMA_VERSION, SchemaRow

PLACE_VARIABLE = "KERFWRIGHT_RECORDS"

WAIT_S = 10.0
"""How long to wait while another program writes to the same file."""

LOCK_NUMBER = 0x4B65_7266
"""Names the lock by which writers on one server wait for each other; any number of our own."""


def records_place(given: str | None = None) -> str:
    """Where the records are: ``given``, else the environment's place, else the user's own file."""
    return given or os.environ.get(PLACE_VARIABLE) or str(_own_folder() / "records.sqlite")


def _own_folder() -> Path:
    return platformdirs.user_data_path("kerfwright", appauthor=False)


class Database:
    """A database by its URL, or by the path of an SQLite file.

    Raises:
        KerfwrightError: from every method, where it cannot be opened, read or written, or was
            written by a newer version.
    """

    def __init__(self, place: str) -> None:
        self._url = _url(place)
        self.place = _shown(self._url)
        with _told(self.place):
            self._engine = _engine(self._url)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    @contextmanager
    def reading(self, since: int = 1, *, as_it_is: bool = False) -> Iterator[Session | None]:
        """Open a session to read with.

        ``None`` where there is nothing yet, or where the tables are of a form before ``since``,
        which had no tables of what is looked for. An earlier form is seen as the newest one, by
        a change that is taken back after reading, unless it is wanted ``as_it_is``.
        """
        with _told(self.place):
            if _is_sqlite(self._url) and not Path(str(self._url.database)).exists():
                yield None
                return
            with self._engine.connect() as connection:
                form = self._form(connection)
            if form < since:
                yield None
            elif form == SCHEMA_VERSION or as_it_is:
                with Session(self._engine) as session:
                    yield session
            else:
                with self._seen_as_newest() as session:
                    yield session

    @contextmanager
    def _seen_as_newest(self) -> Iterator[Session]:
        engine = self._engine.execution_options(writes=True)
        with engine.connect() as connection, connection.begin() as transaction:
            self.bring_up(connection)
            with Session(connection) as session:
                yield session
            transaction.rollback()

    @contextmanager
    def writing(self, *, form: int = SCHEMA_VERSION) -> Iterator[Session]:
        """Open one transaction that writes; makes the file and the tables where they are missing.

        An error inside takes everything back. ``form`` is the least that the tables must have;
        an earlier one than the newest is only of use for reading back what was kept in it.
        """
        with _told(self.place):
            if _is_sqlite(self._url):
                Path(str(self._url.database)).parent.mkdir(parents=True, exist_ok=True)
            engine = self._engine.execution_options(writes=True)
            with engine.begin() as connection:
                self.bring_up(connection, form)
                with Session(connection) as session:
                    yield session
                    session.flush()

    def bring_up(self, connection: Connection, form: int = SCHEMA_VERSION) -> None:
        """Bring the tables to a form, within the transaction of ``connection``."""
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": LOCK_NUMBER})
        present = self._form(connection)
        if present < form:
            # only now: it takes longer to load than most commands take
            from kerfwright.shop.migrations import bring_up  # noqa: PLC0415

            bring_up(connection, present, form)

    def _form(self, connection: Connection) -> int:
        """Form of the tables that are there; 0 for none.

        Raises:
            KerfwrightError: ``records/newer-version``.
        """
        if not inspect(connection).has_table(SchemaRow.__tablename__):
            return 0
        form = connection.scalar(select(SchemaRow.version)) or 0
        if form > SCHEMA_VERSION:
            raise KerfwrightError(
                "records/newer-version",
                file=self.place,
                thing=f"the records were written by a newer Kerfwright (form {form}, this one "
                f"knows {SCHEMA_VERSION}).",
                remedy="Install the newer version; nothing was changed.",
            )
        return form


def _url(place: str) -> URL:
    if "://" not in place:
        return URL.create("sqlite", database=str(Path(place).expanduser()))
    try:
        url = make_url(place)
    except (ArgumentError, ValueError):
        raise _no_place(place, "this is no database URL.") from None
    if _is_sqlite(url) and url.database in (None, "", ":memory:"):
        raise _no_place(place, "this names no file, and records must last.")
    return url


def _shown(url: URL) -> str:
    return str(url.database) if _is_sqlite(url) else url.render_as_string(hide_password=True)


def _no_place(place: str, why: str) -> KerfwrightError:
    return KerfwrightError(
        "records/no-place",
        file=place.rpartition("@")[2],  # what stands before may be a password
        thing=why,
        remedy=f"Give {PLACE_VARIABLE} or --records the path of a file, such as runs.sqlite, or "
        "a database URL such as sqlite:///runs.sqlite.",
    )


def _is_sqlite(url: URL) -> bool:
    return url.get_backend_name() == "sqlite"


def _engine(url: URL) -> Engine:
    if not _is_sqlite(url):
        return create_engine(url)
    engine = create_engine(url, connect_args={"timeout": WAIT_S})
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: Any, _record: object) -> None:
    """Leave transactions to us, write ahead into a log, and sync it with every commit."""
    connection.isolation_level = None
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    """Whoever writes waits for the others before reading, not after."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _told(place: str) -> Iterator[None]:
    """Turn what a database has to say into one clear error."""
    try:
        yield
    except IntegrityError as error:
        raise _cannot_open(place, "another program recorded at the same moment", error) from error
    except (NoSuchModuleError, ModuleNotFoundError) as error:
        raise _cannot_open(place, "the driver for this database is not installed", error) from error
    except (SQLAlchemyError, OSError) as error:
        raise _cannot_open(place, "the records cannot be opened", error) from error


def _cannot_open(place: str, what: str, error: Exception) -> KerfwrightError:
    reason = getattr(error, "orig", None) or getattr(error, "strerror", None) or error
    return KerfwrightError(
        "records/cannot-open",
        file=place,
        thing=f"{what} ({str(reason).splitlines()[0] if str(reason) else type(error).__name__}).",
        remedy=f"Try again, or give {PLACE_VARIABLE} or --records another place; nothing was "
        "changed.",
    )


def utc_now() -> datetime:
    """This moment in UTC, as the tables hold it."""
    return datetime.now(UTC).replace(tzinfo=None)
