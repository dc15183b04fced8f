"""Programs of a planned sheet: one part again, the rest after a stop, or turned to marks."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.errors import KerfwrightError
from kerfwright.output import reburn
from kerfwright.output.registered import registered
from kerfwright.output.text import duration, length
from kerfwright.program.registration import registration_of
from kerfwright.web.api.orders import ThisOrder

router = APIRouter(tags=["programs"])

Far = Annotated[float, Field(ge=-1e5, le=1e5)]

Place = tuple[Far, Far]

SheetNumber = Annotated[int, Field(ge=1, le=100_000)]


class Wanted(BaseModel):
    """What to take from a sheet's program: exactly one of the three."""

    model_config = ConfigDict(extra="forbid")

    part: Annotated[str | None, Field(max_length=500)] = None
    """Make only this part again: NAME#2 is the second NAME."""
    after_part: Annotated[str | None, Field(max_length=500)] = None
    """Go on after the last burn of this part."""
    from_line: Annotated[int | None, Field(ge=1, le=1_000_000_000)] = None
    """Go on from this line of the sheet's program."""


class Excerpt(BaseModel):
    """A program taken from another, read back and proven."""

    name: str
    text: str
    words: str


class MarksRead(BaseModel):
    """Two marks as they are planned and as they were read on the bed, as [x, y] in mm."""

    model_config = ConfigDict(extra="forbid")

    planned: tuple[Place, Place]
    """Where they are in the sheet's program."""
    read: tuple[Place, Place]
    """Where they lie, from the machine's zero, in the same order."""
    tolerance_mm: Annotated[float, Field(ge=0.0, le=100.0)] = 0.3
    """Most that the distance between them may be off."""


class Turned(Excerpt):
    """A program turned to where two marks were read."""

    turned_deg: float
    """To the left."""
    moved_mm: tuple[float, float]
    """By how much the middle between the marks moves."""
    apart_mm: float
    """How much further apart the marks were read than they are planned."""


class PartNames(BaseModel):
    """Parts of a sheet as they are asked for."""

    parts: list[str]


@router.get("/orders/{slug}/sheets/{number}/parts")
def part_names(order: ThisOrder, number: SheetNumber) -> PartNames:
    """Every part on a sheet, its program proven again."""
    return PartNames(parts=_written(order.plan_folder, number).part_names)


@router.post("/orders/{slug}/sheets/{number}/excerpt")
def excerpt(order: ThisOrder, number: SheetNumber, wanted: Wanted) -> Excerpt:
    """Write a program for one part, or for what is left; nothing that is not proven."""
    given = [way for way in (wanted.part, wanted.after_part, wanted.from_line) if way is not None]
    if len(given) != 1:
        raise KerfwrightError(
            "program/what-to-write",
            file=order.slug,
            thing="it is not clear what to write.",
            remedy="Choose one part, or where to go on.",
        )
    sheet = _written(order.plan_folder, number)
    try:
        if wanted.part is not None:
            made, kind = reburn.one_part(sheet, wanted.part), "again"
        elif wanted.after_part is not None:
            made, kind = reburn.rest_after_part(sheet, wanted.after_part), "rest"
        else:
            made, kind = reburn.rest_from_line(sheet, wanted.from_line or 1), "rest"
    except reburn.UnprovenExcerptError as unproven:
        raise _unproven(unproven) from None
    x0, y0, x1, y1 = made.bounds_mm
    return Excerpt(
        name=f"{sheet.sheet.slug}-{kind}.nc",
        text=made.text,
        words=f"{length(made.burned_mm)} to burn, {duration(made.time_s)}; read back and proven. "
        f"It burns from x {x0:.1f} to {x1:.1f} and y {y0:.1f} to {y1:.1f} mm, counted from the "
        "zero of the sheet's program.",
    )


@router.post("/orders/{slug}/sheets/{number}/registered")
def register(order: ThisOrder, number: SheetNumber, marks: MarksRead) -> Turned:
    """Turn and move a sheet's program to where two marks were read; nothing unproven is given."""
    found = registration_of(marks.planned, marks.read, tolerance_mm=marks.tolerance_mm)
    sheet = _written(order.plan_folder, number)
    try:
        made = registered(sheet, found)
    except reburn.UnprovenExcerptError as unproven:
        raise KerfwrightError(
            "verification/program-not-proven",
            file=unproven.program,
            thing=f"the program cannot run where the marks were read: {' '.join(unproven.faults)}",
            remedy="Nothing was written. Read both marks again, or lay the work straighter and "
            "further inside the bed.",
        ) from None
    x0, y0, x1, y1 = made.bounds_mm
    return Turned(
        name=f"{sheet.sheet.slug}-turned.nc",
        text=made.text,
        words=f"{duration(made.time_s)}; read back and proven. It burns from x {x0:.1f} to "
        f"{x1:.1f} and y {y0:.1f} to {y1:.1f} mm from the machine's zero. Run its outline with "
        "the beam off first.",
        turned_deg=found.turned_deg,
        moved_mm=found.moved_mm,
        apart_mm=found.apart_mm,
    )


def _written(folder: Path, number: int) -> reburn.WrittenSheet:
    try:
        return reburn.read_sheet(folder, number)
    except reburn.UnprovenExcerptError as unproven:
        raise _unproven(unproven) from None


def _unproven(unproven: reburn.UnprovenExcerptError) -> KerfwrightError:
    return KerfwrightError(
        "verification/program-not-proven",
        file=unproven.program,
        thing=f"the program is not proven: {'; '.join(unproven.faults)}.",
        remedy="Nothing was written. Plan the order again.",
    )
