"""A run of a planned sheet, put together from its plan folder and what the stopwatch said."""

from __future__ import annotations

import datetime
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kerfwright.errors import KerfwrightError
from kerfwright.output.files import PLAN_FILE
from kerfwright.output.text import duration
from kerfwright.shop.runs import Run

UNLIKELY = 5.0
"""A run so many times longer or shorter than computed is a slip of the pen more often than not."""

Seconds = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]


class _Planned(BaseModel):
    """What is read of ``plan.json``; whatever else stands there does not matter here."""

    model_config = ConfigDict(extra="ignore", frozen=True)


class _Expected(_Planned):
    time_s: Seconds


class _Sheet(_Planned):
    number: int
    material: str
    sheet: str
    program: str | None
    program_sha256: str | None
    time_s: Seconds
    time_by_process_s: dict[str, Seconds]
    expected: _Expected | None


class _Document(_Planned):
    title: str
    machine: str
    machine_clock: str
    sheets: tuple[_Sheet, ...]


@dataclass(frozen=True, slots=True)
class Timed:
    """What whoever stood at the machine has to say of a run."""

    actual_s: float
    ran_on: datetime.date
    sheet: int | None = None
    """``None`` for the only sheet of a plan."""
    note: str = ""
    scrapped_parts: int | None = None


class WrittenPlan:
    """A plan as it lies in its folder."""

    def __init__(self, place: Path) -> None:
        """Read a plan folder or its ``plan.json``.

        Raises:
            KerfwrightError: ``records/not-a-plan``.
        """
        self.file = place / PLAN_FILE if place.is_dir() else place
        try:
            self._document = _Document.model_validate_json(self.file.read_bytes())
        except OSError as error:
            raise self._no_plan(f"there is no plan to read here ({error.strerror}).") from None
        except ValidationError as error:
            keys = ".".join(str(step) for step in error.errors(include_url=False)[0]["loc"])
            what = f"{keys} is missing or wrong" if keys else "it is no JSON"
            raise self._no_plan(f"this is no plan of this version: {what}.") from None

    def run(self, timed: Timed, *, sure: bool = False) -> Run:
        """Put a run together.

        Raises:
            KerfwrightError: there is no such sheet, nothing is burned on it, its program is not
                the one that was planned, or (both unless ``sure``) the time is unlikely.
        """
        sheet = self._sheet(timed.sheet)
        burned = {process: s for process, s in sheet.time_by_process_s.items() if s > 0.0}
        if not burned or sheet.time_s <= 0.0 or sheet.program is None:
            raise KerfwrightError(
                "records/nothing-burned",
                file=str(self.file),
                thing=f"nothing is burned on sheet {sheet.number}, so there is no time to compare.",
                remedy="Record the sheets that have a program.",
            )
        if not sure:
            _require_likely(timed.actual_s, sheet, str(self.file))
        return Run(
            machine=self._document.machine,
            clock=self._document.machine_clock,
            order=self._document.title,
            sheet=sheet.number,
            sheet_name=sheet.sheet,
            material=sheet.material,
            program=sheet.program,
            program_sha256=self._program_sha256(sheet, sheet.program, sure=sure),
            computed_s=sheet.time_s,
            by_process_s=burned,
            actual_s=timed.actual_s,
            ran_on=timed.ran_on,
            expected_s=sheet.expected.time_s if sheet.expected else None,
            scrapped_parts=timed.scrapped_parts,
            note=timed.note,
        )

    def _sheet(self, number: int | None) -> _Sheet:
        sheets = {sheet.number: sheet for sheet in self._document.sheets}
        if number is None and len(sheets) == 1:
            return next(iter(sheets.values()))
        if number is None or number not in sheets:
            known = ", ".join(str(one) for one in sheets)
            what = (
                "it does not say which sheet" if number is None else f"there is no sheet {number}"
            )
            raise KerfwrightError(
                "records/no-such-sheet",
                file=str(self.file),
                thing=f"{what}; the plan has {'sheet' if len(sheets) == 1 else 'sheets'} {known}.",
                remedy="Give the sheet's number with --sheet; it stands on the ticket.",
            )
        return sheets[number]

    def _program_sha256(self, sheet: _Sheet, program: str, *, sure: bool) -> str:
        """Hash of the program as it lies there, or as it was planned where it is gone."""
        planned = sheet.program_sha256 or ""
        try:
            found = hashlib.sha256((self.file.parent / program).read_bytes()).hexdigest()
        except OSError:
            found = planned
        if not found or (found != planned and not sure):
            raise KerfwrightError(
                "records/program-changed",
                file=str(self.file.parent / program),
                thing="the program is not the one that was planned, so its computed time may not "
                "be its own.",
                remedy="Plan the order again and record that program's run; or say with --sure "
                "that the change takes no time.",
            )
        return found

    def _no_plan(self, why: str) -> KerfwrightError:
        return KerfwrightError(
            "records/not-a-plan",
            file=str(self.file),
            thing=why,
            remedy="Give the folder that kerfwright plan wrote, or plan the order again.",
        )


def _require_likely(actual_s: float, sheet: _Sheet, file: str) -> None:
    ratio = actual_s / sheet.time_s
    if 1.0 / UNLIKELY <= ratio <= UNLIKELY:
        return
    raise KerfwrightError(
        "records/unlikely-time",
        file=file,
        thing=f"{duration(actual_s)} is {ratio:.2g} times the {duration(sheet.time_s)} that were "
        f"computed for sheet {sheet.number}.",
        remedy="Look whether minutes and seconds, or two sheets, were mixed up. If it is right, "
        "record it with --sure.",
    )
