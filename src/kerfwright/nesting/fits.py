"""Whether a body fits a sheet at all, and why one was left over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from kerfwright.geometry.affine import rotation
from kerfwright.nesting.model import Body, Layouts, SheetSize

FIT_MM = 1e-9
"""How far a body may pass the usable area, for rounding."""


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Copies of a body that lie on no sheet, and why.

    ``part-too-big``: no sheet of the stock takes it in any allowed turn, ``width_mm`` ×
    ``height_mm`` being its smallest box. ``out-of-sheets``: it fits, but the stock ran out.
    """

    body: int
    count: int
    reason: Literal["part-too-big", "out-of-sheets"]
    width_mm: float
    height_mm: float


def sizes_mm(body: Body) -> list[tuple[float, float]]:
    """Width and height of the body's bounding box in every allowed turn."""
    points = shapely.get_coordinates(list(body.footprint))
    sizes = []
    for turn_deg in body.turns_deg:
        span = rotation(turn_deg).apply(points)
        width, height = span.max(axis=0) - span.min(axis=0)
        sizes.append((float(width), float(height)))
    return sizes


def smallest_size_mm(body: Body) -> tuple[float, float]:
    """Width and height of the allowed turn whose box has the least area, the first of equals."""
    return min(sizes_mm(body), key=lambda size: round(size[0] * size[1], 6))


def room_mm(sheet: SheetSize, margin_mm: float) -> tuple[float, float]:
    """Width and height of the box round the largest connected area that parts may lie on."""
    if sheet.plain:
        return sheet.width_mm - 2.0 * margin_mm, sheet.height_mm - 2.0 * margin_mm
    pieces = sheet.usable(margin_mm).geoms
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (piece.bounds for piece in pieces)]
    return max(sizes, key=lambda size: size[0] * size[1], default=(0.0, 0.0))


def fits(body: Body, sheet: SheetSize, margin_mm: float) -> bool:
    """Whether the sheet less its margin may take the body in an allowed turn, by its box.

    On a sheet that is no plain rectangle a box that fits is no promise.
    """
    width_mm, height_mm = room_mm(sheet, margin_mm)
    return any(
        width <= width_mm + FIT_MM and height <= height_mm + FIT_MM
        for width, height in sizes_mm(body)
    )


def fits_any(body: Body, sheets: Sequence[SheetSize], margin_mm: float) -> bool:
    """Whether any of the sheets takes the body in an allowed turn."""
    return any(fits(body, sheet, margin_mm) for sheet in sheets if sheet.count > 0)


def why_unplaced(
    bodies: Sequence[Body], sheets: Sequence[SheetSize], layouts: Layouts, *, margin_mm: float
) -> tuple[Unplaced, ...]:
    """Say for every body left over whether it is too big or the sheets ran out."""
    return tuple(
        Unplaced(
            number,
            count,
            "out-of-sheets" if fits_any(bodies[number], sheets, margin_mm) else "part-too-big",
            *smallest_size_mm(bodies[number]),
        )
        for number, count in sorted(layouts.unplaced.items())
        if count > 0
    )
