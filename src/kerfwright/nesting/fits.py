"""Whether a body fits a sheet at all."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from kerfwright.geometry.affine import Affine, rotation, scaling
from kerfwright.nesting.footprint import material
from kerfwright.nesting.inner_fit import fits_within
from kerfwright.nesting.model import Body, SheetSize

FIT_MM = 1e-9
"""How far a body may pass the usable area, for rounding."""


def poses(body: Body) -> list[Affine]:
    """Every way in which the body may be turned, and turned over."""
    turned = [rotation(turn_deg) for turn_deg in body.turns_deg]
    if not body.may_mirror:
        return turned
    return turned + [pose @ scaling(-1.0, 1.0) for pose in turned]


def sizes_mm(body: Body) -> list[tuple[float, float]]:
    """Width and height of the body's bounding box in every allowed turn."""
    points = shapely.get_coordinates(list(body.footprint))
    sizes = []
    for pose in poses(body):
        span = pose.apply(points)
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


def fits(body: Body, sheet: SheetSize, *, margin_mm: float, spacing_mm: float) -> bool:
    """Whether the empty sheet takes the body in an allowed turn.

    On a plain sheet the body's box tells, on others its outline and that of what is usable.
    """
    if not sheet.plain:
        return fits_within(material(body), poses(body), sheet.usable(margin_mm, spacing_mm))
    width_mm, height_mm = room_mm(sheet, margin_mm)
    return any(
        width <= width_mm + FIT_MM and height <= height_mm + FIT_MM
        for width, height in sizes_mm(body)
    )


def fits_any(
    body: Body, sheets: Sequence[SheetSize], *, margin_mm: float, spacing_mm: float
) -> bool:
    """Whether any of the sheets, empty, takes the body in an allowed turn."""
    return any(
        fits(body, sheet, margin_mm=margin_mm, spacing_mm=spacing_mm)
        for sheet in sheets
        if sheet.count > 0
    )
