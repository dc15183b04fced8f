"""The shop's records of runs, kept in its database."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kerfwright.errors import KerfwrightError
from kerfwright.shop.database import Database, utc_now
from kerfwright.shop.record_tables import RunProcessRow, RunRow
from kerfwright.shop.runs import RecordedRun, Run


class RunRecords:
    """Recorded runs in a database: ``place`` is its URL, or the path of an SQLite file.

    Reading makes no file. Every method raises :class:`KerfwrightError` where the records cannot
    be opened, read or written.
    """

    def __init__(self, place: str) -> None:
        self.database = Database(place)
        self.place = self.database.place

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    def record(self, runs: Sequence[Run], *, again: bool = False) -> list[RecordedRun]:
        """Keep runs, all or none of them.

        Raises:
            KerfwrightError: ``records/recorded-before`` where a program has a run on record and
                ``again`` does not say that this is another one.
        """
        with self.database.writing() as session:
            return self.record_within(session, runs, again=again)

    def record_within(
        self, session: Session, runs: Sequence[Run], *, again: bool = False
    ) -> list[RecordedRun]:
        """Keep runs as part of a larger transaction, as :meth:`record` does alone."""
        return [_as_recorded(self._add(session, run, again=again)) for run in runs]

    def forget(self, number: int) -> RecordedRun:
        """Take a run out: it stays on record, but nothing learns from it.

        Raises:
            KerfwrightError: ``records/no-such-run`` where there is none, or it is out already.
        """
        with self.database.reading() as session:
            known = session is not None and session.get(RunRow, number) is not None
        if known:
            with self.database.writing() as session:
                row = session.get_one(RunRow, number)
                if row.forgotten_at is None:
                    row.forgotten_at = utc_now()
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
        with self.database.reading() as session:
            return [] if session is None else [_as_recorded(row) for row in session.scalars(chosen)]

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


def _as_row(run: Run, repeat: int) -> RunRow:
    return RunRow(
        recorded_at=utc_now(),
        forgotten_at=None,
        ran_on=run.ran_on,
        machine=run.machine,
        clock=run.clock,
        order_title=run.order,
        order_reference=run.reference or run.order,
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
            reference=_beside_title(row.order_reference, row.order_title),
        ),
        recorded_at=row.recorded_at.replace(tzinfo=UTC),
        repeat=row.repeat,
        forgotten_at=row.forgotten_at and row.forgotten_at.replace(tzinfo=UTC),
    )


def _beside_title(reference: str | None, title: str) -> str:
    """A reference where it says more than the title, else nothing."""
    return reference if reference is not None and reference != title else ""
