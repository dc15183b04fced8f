"""Layouts so far as pictures: outlines coarse enough to be sent several times a second."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import affine_transform

from kerfwright.geometry.affine import Affine
from kerfwright.nesting.model import Body, LayoutSoFar, SheetLayout
from kerfwright.output.path_data import rings
from kerfwright.web.planning.messages import LayoutShown, SheetSoFar

COARSE_MM = 0.3
"""Outlines are drawn as straight as this allows; a page shows a sheet at half a mm a dot or so."""

MOST_POINTS = 40_000
"""Of all sheets together; beyond, parts are drawn by their hulls."""


def shown(so_far: LayoutSoFar) -> LayoutShown:
    """Draw what lies where on each sheet of a material."""
    coarse = [_coarse(body) for body in so_far.bodies]
    sheets = so_far.layouts.sheets
    points = sum(_points(coarse[p.body]) for layout in sheets for p in layout.placements)
    if points > MOST_POINTS:
        coarse = [(_hull(areas),) for areas in coarse]
    return LayoutShown(
        so_far.material,
        tuple(_sheet(layout, coarse) for layout in sheets),
        sum(so_far.layouts.unplaced.values()),
        so_far.cost_in_words,
    )


def _coarse(body: Body) -> tuple[Polygon, ...]:
    plain = (area.simplify(COARSE_MM) for area in body.footprint)
    return tuple(
        area if not area.is_empty else whole
        for area, whole in zip(plain, body.footprint, strict=True)
    )


def _hull(areas: tuple[Polygon, ...]) -> Polygon:
    hull = shapely.convex_hull(shapely.union_all(list(areas)))
    return hull if isinstance(hull, Polygon) else Polygon()


def _points(areas: tuple[Polygon, ...]) -> int:
    return sum(int(shapely.get_num_coordinates(area)) for area in areas)


def _sheet(layout: SheetLayout, coarse: list[tuple[Polygon, ...]]) -> SheetSoFar:
    sheet = layout.sheet
    placed = [
        _moved(area, placement.transform)
        for placement in layout.placements
        for area in coarse[placement.body]
    ]
    return SheetSoFar(
        name=sheet.name,
        width_mm=sheet.width_mm,
        height_mm=sheet.height_mm,
        outline=_path(sheet.material, sheet.height_mm),
        parts="".join(_path(area, sheet.height_mm) for area in placed),
        count=len(placed),
    )


def _moved(area: Polygon, by: Affine) -> Polygon:
    return affine_transform(area, [by.a, by.c, by.b, by.d, by.e, by.f])


def _path(area: Polygon, height_mm: float) -> str:
    if area.is_empty:
        return ""
    edges = [area.exterior, *area.interiors]
    return rings([np.asarray(edge.coords)[:, :2] for edge in edges], height_mm, decimals=1)
