"""Parts on a sheet, as ``plan.json`` has them."""

from __future__ import annotations

from collections import Counter
from typing import Annotated

from pydantic import Field

from kerfwright.output.record import Count, NotNegative, Number, Record, rounded
from kerfwright.output.text import encodable
from kerfwright.plan import PlannedSheet


class PartRecord(Record):
    """A part where it lies on its sheet."""

    name: str
    """What the part is called."""
    instance: Annotated[int, Field(ge=1)]
    """Which of the parts of that name, counted from 1 through the whole order."""
    drawing: str
    """The drawing that the part comes from."""
    blank: bool
    """True for a thing made elsewhere, which is only marked and not cut."""
    x_mm: Number
    """Left edge of the finished part, from the sheet's lower left corner."""
    y_mm: Number
    """Lower edge of the finished part, from the sheet's lower left corner."""
    width_mm: NotNegative
    """Extent in x."""
    height_mm: NotNegative
    """Extent in y."""
    item: Count | None
    """Which of the order's items it is made for, from 0; null where that is not known."""
    part: Count | None
    """Which of the parts of its drawing it is, from 0; null where that is not known."""
    turn_deg: Number | None
    """How far it is turned from how it is drawn; null where that is not known."""
    mirrored: bool
    """Whether it lies with its other face up."""
    pinned: bool
    """Whether the order gives it this place."""


def part_records(sheet: PlannedSheet, seen: Counter[str]) -> tuple[PartRecord, ...]:
    """Record the parts of a sheet; ``seen`` counts them by name over all sheets."""
    records = []
    laid = sheet.laid or (None,) * len(sheet.parts)
    for part, origin in zip(sheet.parts, laid, strict=True):
        seen[part.name] += 1
        x0, y0, x1, y1 = part.outline.bounds_mm
        records.append(
            PartRecord(
                name=encodable(part.name),
                instance=seen[part.name],
                drawing=encodable(part.drawing),
                blank=part.blank,
                x_mm=rounded(x0),
                y_mm=rounded(y0),
                width_mm=rounded(x1 - x0),
                height_mm=rounded(y1 - y0),
                item=None if origin is None else origin.item,
                part=None if origin is None else origin.part,
                turn_deg=None if origin is None else rounded(origin.turn_deg),
                mirrored=origin is not None and origin.mirrored,
                pinned=origin is not None and origin.pinned,
            )
        )
    return tuple(records)
