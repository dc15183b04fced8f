"""What a layout leaves of its sheet: the offcut, and the largest rectangle to be cut from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import shapely
from shapely import MultiPolygon, Polygon
from shapely.affinity import affine_transform

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.regions import as_area
from kerfwright.nesting.empty_rectangle import largest_rectangle
from kerfwright.nesting.footprint import material
from kerfwright.nesting.model import Body, SheetLayout

NARROW_MM = 10.0
"""Tongues of the offcut narrower than this are waste; common practice, no source."""

COARSE_MM = 0.05
"""Outlines are coarsened by so much, outward, before they are taken off a sheet."""


@dataclass(frozen=True, eq=False, slots=True)
class Remainder:
    """What is left of a sheet when its parts are out, in the sheet's coordinates.

    ``hull_fraction`` is the parts' area over that of the hull of them all; ``offcut`` is the
    largest connected piece left, without tongues narrower than :data:`NARROW_MM`, and
    ``rectangle`` the largest axis-parallel rectangle of all that is left; both keep the spacing
    from the parts and may be empty.
    """

    hull_fraction: float
    offcut: Polygon = field(default_factory=Polygon)
    rectangle: Polygon = field(default_factory=Polygon)

    @property
    def rectangle_mm(self) -> tuple[float, float]:
        """Width and height of the rectangle."""
        if self.rectangle.is_empty:
            return 0.0, 0.0
        x_low, y_low, x_high, y_high = self.rectangle.bounds
        return x_high - x_low, y_high - y_low


def remainder(bodies: Sequence[Body], layout: SheetLayout, *, spacing_mm: float) -> Remainder:
    """Measure what a sheet's layout leaves over."""
    areas = {p.body: material(bodies[p.body]) for p in layout.placements}
    placed = [_moved(areas[p.body], p.transform) for p in layout.placements]
    hull_mm2 = shapely.convex_hull(shapely.union_all(placed)).area if placed else 0.0
    taken = shapely.union_all(
        [
            area.simplify(COARSE_MM).buffer(spacing_mm + COARSE_MM, join_style="mitre")
            for area in placed
        ]
    )
    left = layout.sheet.material.difference(shapely.union_all([taken, *layout.sheet.keep_out]))
    return Remainder(
        hull_fraction=sum(area.area for area in placed) / hull_mm2 if hull_mm2 else 0.0,
        offcut=_largest_piece(as_area(left)),
        rectangle=largest_rectangle(as_area(left)),
    )


def _moved(area: MultiPolygon, t: Affine) -> MultiPolygon:
    return affine_transform(area, [t.a, t.c, t.b, t.d, t.e, t.f])


def _largest_piece(left: MultiPolygon) -> Polygon:
    """The largest piece that stays in one when narrow tongues are broken off."""
    opened = left.buffer(-NARROW_MM / 2, join_style="mitre").buffer(
        NARROW_MM / 2, join_style="mitre"
    )
    pieces = as_area(opened.intersection(left)).geoms
    return max(pieces, key=lambda piece: piece.area, default=Polygon())
