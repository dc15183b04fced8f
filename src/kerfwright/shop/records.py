"""The shop's records: runs kept in a database, by default one small file in the user's folder.

Every change is one transaction: it is there whole or not at all, whenever the power fails.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import platformdirs
from sqlalchemy import Connection, Engine, create_engine, event, func, inspect, select
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, IntegrityError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.orm import Session

from kerfwright.errors import KerfwrightError
from kerfwright.shop.record_tables import (
    SCHEMA_VERSION,
    RecordTable,
    RunProcessRow,
    RunRow,
    SchemaRow,
)
from kerfwright.shop.runs import RecordedRun, Run

PLACE_VARIABLE = "KERFWRIGHT_RECORDS"

WAIT_S = 10.0
"""How long to wait while another program writes to the same file."""


def records_place(given: str | None = None) -> str:
    """Where the records are: ``given``, else the environment's place, else the user's own file."""
    return given or os.environ.get(PLACE_VARIABLE) or str(_own_folder() / "records.sqlite")


def _own_folder() -> Path:
    return platformdirs.user_data_path("kerfwright", appauthor=False)


class RunRecords:
    """Recorded runs in a database: ``place`` is its URL, or the path of an SQLite file.

    Reading makes no file. Every method raises :class:`KerfwrightError` where the records cannot
    be opened, read or written.
    """

    def __init__(self, place: str) -> None:
        self._url = _url(place)
        self.place = _shown(self._url)
        with _told(self.place):
            self._engine = _engine(self._url)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def record(self, runs: Sequence[Run], *, again: bool = False) -> list[RecordedRun]:
        """Keep runs, all or none of them.

        Raises:
            KerfwrightError: ``records/recorded-before`` where a program has a run on record and
                ``again`` does not say that this is another one.
        """
        with _told(self.place), self._writing() as session:
            return [_as_recorded(self._add(session, run, again=again)) for run in runs]

    def forget(self, number: int) -> RecordedRun:
        """Take a run out: it stays on record, but nothing learns from it.

        Raises:
            KerfwrightError: ``records/no-such-run`` where there is none, or it is out already.
        """
        with _told(self.place):
            if self._has_tables():
                with self._writing() as session:
                    row = session.get(RunRow, number)
                    if row is not None and row.forgotten_at is None:
                        row.forgotten_at = _now()
                        return _as_recorded(row)
        raise KerfwrightError(
            "records/no-such-run",
            file=self.place,
            thing=f"there is no run {number}, or it was taken out before.",
            remedy="kerfwright records lists the runs with their numbers.",
        )

    def runs(self, machine: str | None = None, *, forgotten: bool = False) -> list[RecordedRun]:
        """Return recorded runs in the order of recording, of one machine or of all."""
        chosen = select(RunRow).order_by(RunRow.id)
        if machine is not None:
            chosen = chosen.where(RunRow.machine == machine)
        if not forgotten:
            chosen = chosen.where(RunRow.forgotten_at.is_(None))
        with _told(self.place):
            if not self._has_tables():
                return []
            with Session(self._engine) as session:
                _require_known_version(session, self.place)
                return [_as_recorded(row) for row in session.scalars(chosen)]

    def _has_tables(self) -> bool:
        if _is_sqlite(self._url) and not Path(str(self._url.database)).exists():
            return False
        return inspect(self._engine).has_table(SchemaRow.__tablename__)

    @contextmanager
    def _writing(self) -> Iterator[Session]:
        """One transaction that writes; makes the file and the tables where they are missing."""
        if _is_sqlite(self._url):
            Path(str(self._url.database)).parent.mkdir(parents=True, exist_ok=True)
        engine = self._engine.execution_options(writes=True)
        with engine.begin() as connection:
            RecordTable.metadata.create_all(connection)
            with Session(connection) as session:
                if session.scalar(select(SchemaRow)) is None:
                    session.add(SchemaRow(version=SCHEMA_VERSION))
                _require_known_version(session, self.place)
                yield session
                session.flush()

    def _add(self, session: Session, run: Run, *, again: bool) -> RunRow:
        same = (RunRow.machine == run.machine, RunRow.program_sha256 == run.program_sha256)
        before = session.scalars(
            select(RunRow).where(*same, RunRow.forgotten_at.is_(None)).order_by(RunRow.id.desc())
        ).first()
        if before is not None and not again:
            raise _recorded_before(self.place, run, before)
        last = session.scalar(select(func.max(RunRow.repeat)).where(*same))
        row = _as_row(run, repeat=(last or 0) + 1)
        session.add(row)
        session.flush()
        return row


def _recorded_before(place: str, run: Run, before: RunRow) -> KerfwrightError:
    return KerfwrightError(
        "records/recorded-before",
        file=place,
        thing=f'"{run.program}" has a run on record already: run {before.id} of '
        f"{before.ran_on}, {before.actual_s:.0f} s.",
        remedy="If it was burned another time, say so with --again. If the record is wrong, take "
        f"it out with kerfwright record --forget {before.id} first.",
    )


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


def _require_known_version(session: Session, place: str) -> None:
    version = session.scalar(select(SchemaRow.version)) or 0
    if version > SCHEMA_VERSION:
        raise KerfwrightError(
            "records/newer-version",
            file=place,
            thing=f"the records were written by a newer Kerfwright (form {version}, this one "
            f"knows {SCHEMA_VERSION}).",
            remedy="Install the newer version; nothing was changed.",
        )


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


def _now() -> datetime:
    """This moment in UTC, as the tables hold it."""
    return datetime.now(UTC).replace(tzinfo=None)


def _as_row(run: Run, repeat: int) -> RunRow:
    return RunRow(
        recorded_at=_now(),
        forgotten_at=None,
        ran_on=run.ran_on,
        machine=run.machine,
        clock=run.clock,
        order_title=run.order,
        sheet_number=run.sheet,
        sheet_name=run.sheet_name,
        material=run.material,
        program=run.program,
        program_sha256=run.program_sha256,
        repeat=repeat,
        computed_s=run.computed_s,
        expected_s=run.expected_s,
        actual_s=run.actual_s,
        scrapped_parts=run.scrapped_parts,
        note=run.note,
        processes=[
            RunProcessRow(process=process, computed_s=seconds)
            for process, seconds in run.by_process_s.items()
        ],
    )


def _as_recorded(row: RunRow) -> RecordedRun:
    return RecordedRun(
        number=row.id,
        run=Run(
            machine=row.machine,
            clock=row.clock,
            order=row.order_title,
            sheet=row.sheet_number,
            sheet_name=row.sheet_name,
            material=row.material,
            program=row.program,
            program_sha256=row.program_sha256,
            computed_s=row.computed_s,
            by_process_s={one.process: one.computed_s for one in row.processes},
            actual_s=row.actual_s,
            ran_on=row.ran_on,
            expected_s=row.expected_s,
            scrapped_parts=row.scrapped_parts,
            note=row.note,
        ),
        recorded_at=row.recorded_at.replace(tzinfo=UTC),
        repeat=row.repeat,
        forgotten_at=row.forgotten_at and row.forgotten_at.replace(tzinfo=UTC),
    )
