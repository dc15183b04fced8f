"""A run of a planned sheet, put together from its plan folder and what the stopwatch said."""

from __future__ import annotations

import datetime
import hashlib
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any

import shapely
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from shapely import Polygon

from kerfwright.errors import KerfwrightError
from kerfwright.geometry.regions import as_area
from kerfwright.output.files import PLAN_FILE
from kerfwright.output.text import duration
from kerfwright.shop.faults import listed, nearest
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.orders import PlannedOrder, SheetOfPlan
from kerfwright.shop.recipe_history import Described
from kerfwright.shop.recipe_versions import Noting
from kerfwright.shop.run_stock import SheetUse
from kerfwright.shop.runs import Run

QUOTE_FILE = "quote.json"

UNLIKELY = 5.0
"""A run so many times longer or shorter than computed is a slip of the pen more often than not."""

Seconds = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]


class _Planned(BaseModel):
    """What is read of ``plan.json``; whatever else stands there does not matter here."""

    model_config = ConfigDict(extra="ignore", frozen=True)


class _Expected(_Planned):
    time_s: Seconds


class _Left(_Planned):
    offcut: tuple[tuple[tuple[float, float], ...], ...]
    worth_keeping: bool = False


class _Part(_Planned):
    name: str
    instance: int = 1


class _Sheet(_Planned):
    number: int
    material: str
    sheet: str
    program: str | None
    program_sha256: str | None
    time_s: Seconds
    time_by_process_s: dict[str, Seconds]
    expected: _Expected | None
    thickness_mm: Annotated[float, Field(gt=0.0, allow_inf_nan=False)] | None = None
    recipes: dict[str, dict[str, Any]] = {}
    label: str | None = None
    left: _Left | None = None
    width_mm: Seconds = 0.0
    height_mm: Seconds = 0.0
    parts_placed: int = 0
    used_fraction: Seconds = 0.0
    parts: tuple[_Part, ...] = ()


class _Document(_Planned):
    title: str
    reference: str = ""
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
            written = self.file.read_bytes()
            self._document = _Document.model_validate_json(written)
        except OSError as error:
            raise self._no_plan(f"there is no plan to read here ({error.strerror}).") from None
        except ValidationError as error:
            keys = ".".join(str(step) for step in error.errors(include_url=False)[0]["loc"])
            what = f"{keys} is missing or wrong" if keys else "it is no JSON"
            raise self._no_plan(f"this is no plan of this version: {what}.") from None

        self.title = self._document.title
        self.reference = self._document.reference
        self.machine = self._document.machine
        self.sha256 = hashlib.sha256(written).hexdigest()

    @property
    def labels(self) -> Counter[str]:
        """How many sheets of each label in the stock on record the plan takes."""
        return Counter(sheet.label for sheet in self._document.sheets if sheet.label is not None)

    def use(self, number: int | None, *, laid_in: str | None = None) -> SheetUse | None:
        """Say what running a sheet takes out of stock and brings back; ``None`` for nothing.

        ``laid_in`` is the label of the piece that was taken instead of the planned one.

        Raises:
            KerfwrightError: ``records/no-such-sheet``.
        """
        sheet = self._sheet(number)
        label = laid_in or sheet.label
        if label is None:
            return None
        left = None
        if sheet.left is not None and sheet.left.worth_keeping and sheet.left.offcut:
            written = Polygon(sheet.left.offcut[0], sheet.left.offcut[1:])
            # corners are rounded to micrometres, and narrow places may have closed by that
            pieces = as_area(shapely.make_valid(written)).geoms
            left = max(pieces, key=lambda piece: piece.area, default=None)
        return SheetUse(label, left, (sheet.width_mm, sheet.height_mm), self.sha256)

    def burned(self, number: int | None, *, by: str) -> list[Described]:
        """Say which recipes a sheet is burned with, for the record of what was ever used.

        A recipe with keys that are not known here is another version's, and is left to it.
        """
        sheet = self._sheet(number)
        if sheet.thickness_mm is None:
            return []
        recipes = []
        for keys in sheet.recipes.values():
            with suppress(ValidationError):
                recipes.append(Recipe.model_validate(keys))
        material = Material(
            name=sheet.material, thickness_mm=sheet.thickness_mm, recipes=tuple(recipes)
        )
        noting = Noting(by, "run", f"{self.title}, sheet {sheet.number}")
        return [Described(material, noting, whole=False)]

    def planned(self) -> PlannedOrder:
        """Say what of the plan an order keeps: its sheets, their times and their areas.

        A sheet of any outline counts with the area of the rectangle round it.
        """
        sheets = tuple(
            SheetOfPlan(
                number=sheet.number,
                material=sheet.material,
                sheet=sheet.sheet,
                program_sha256=sheet.program_sha256,
                time_s=sheet.expected.time_s if sheet.expected else sheet.time_s,
                sheet_mm2=sheet.width_mm * sheet.height_mm,
                parts_mm2=sheet.used_fraction * sheet.width_mm * sheet.height_mm,
                parts=sheet.parts_placed,
            )
            for sheet in self._document.sheets
        )
        folder = self.file.parent.resolve()
        net, currency = net_of_quote(folder)
        return PlannedOrder(
            self.title,
            self.machine,
            str(folder),
            self.sha256,
            sheets,
            net,
            currency,
            self.reference,
        )

    def parts_named(self, number: int | None, wanted: Sequence[str]) -> tuple[str, ...]:
        """Return parts of a sheet in full, as in ``lid#2``; a name that only one has will do.

        A part named twice is returned once.

        Raises:
            KerfwrightError: ``records/no-such-sheet`` or ``records/which-part``.
        """
        sheet = self._sheet(number)
        known = [f"{part.name}#{part.instance}" for part in sheet.parts]
        found = []
        for name in wanted:
            meant = [one for one in known if name in (one, one.rpartition("#")[0])]
            if len(meant) != 1:
                raise self._which_part(name, sheet.number, meant, known)
            found += meant
        return tuple(dict.fromkeys(found))

    def _which_part(
        self, name: str, sheet: int, meant: Sequence[str], known: Sequence[str]
    ) -> KerfwrightError:
        like = nearest(name, known)
        remedy = f"kerfwright program {self.file.parent} --sheet {sheet} lists its parts."
        if meant:
            remedy = f"Say which, such as {listed(meant[:3])}."
        elif like is not None:
            remedy = f'Did you mean "{like}"? {remedy}'
        return KerfwrightError(
            "records/which-part",
            file=str(self.file),
            thing=f'{len(meant) or "no"} parts of sheet {sheet} are called "{name}".',
            remedy=remedy,
        )

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
            reference=self.reference,
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


class _Quote(_Planned):
    net: Decimal
    currency: str = ""


class _Quotes(_Planned):
    quote: _Quote


def net_of_quote(folder: Path) -> tuple[Decimal | None, str]:
    """What the quote beside a plan asks without tax, and its currency; nothing without a quote."""
    try:
        quote = _Quotes.model_validate_json((folder / QUOTE_FILE).read_bytes()).quote
    except (OSError, ValidationError):
        return None, ""
    return quote.net, quote.currency[:8]


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
