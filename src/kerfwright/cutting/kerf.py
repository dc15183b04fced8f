"""The beam's path beside an edge, half a kerf away, so that the finished part is on size.

Corners are mitred and not rounded: a round path would keep the same corner of the part just as
sharp, but costs a row of short moves that the machine has to slow down for. Tips sharper than
60° are cut off at :data:`MITRE_LIMIT` half kerfs, beyond which the beam would only burn waste.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area, rings_of

MITRE_LIMIT = 2.0

NARROW_LENGTH_KERFS = 3.0
"""A place too narrow for the beam is worth a word when it is this many kerfs long."""

NARROW_WIDTH_KERFS = 0.1
"""Thinner differences come from rounding the kerf's circle to a polygon."""


@dataclass(frozen=True, slots=True)
class NarrowPlace:
    """A place, or a whole hole, that the beam is too wide for."""

    x_mm: float
    y_mm: float
    length_mm: float
    whole: bool


def beside_outline(outline: Path, half_kerf_mm: float) -> list[Path]:
    """Paths of the beam round an outline, counter-clockwise outside and clockwise inside.

    There is usually one; a gap in the outline that the kerf closes leaves one more inside.
    """
    return paths_round(shapely.buffer(_area(outline), half_kerf_mm, **_MITRED))


def beside_hole(hole: Path, half_kerf_mm: float) -> list[Path]:
    """Paths of the beam inside a hole, clockwise; none if the hole is narrower than the kerf."""
    inside = as_area(shapely.buffer(_area(hole), -half_kerf_mm, **_MITRED))
    return [path.reversed() for path in paths_round(inside)]


def beside_area(area: MultiPolygon, half_kerf_mm: float) -> list[Path]:
    """Paths of the beam round an area: outside it and in the gaps that it encloses."""
    return paths_round(as_area(shapely.buffer(area, half_kerf_mm, **_MITRED)))


def paths_round(area: MultiPolygon | Polygon) -> list[Path]:
    """Edges of an area, outer ones counter-clockwise and inner ones clockwise."""
    return [Path(ring, closed=True) for ring in rings_of(shapely.orient_polygons(area))]


def narrow_places(edge: Path, half_kerf_mm: float, *, hole: bool) -> list[NarrowPlace]:
    """Where the beam is too wide for a hole, or for a notch or gap in an outline.

    What the beam can burn of the waste is its morphological opening by the kerf's circle (Serra,
    *Image Analysis and Mathematical Morphology*, 1982); the rest stays.
    """
    if half_kerf_mm == 0.0:
        return []
    area = _area(edge)
    if hole:
        core = shapely.buffer(area, -half_kerf_mm, **_MITRED)
        if core.is_empty:
            return [_place(area, whole=True)]
        left = area - shapely.buffer(core, half_kerf_mm)
    else:
        left = shapely.buffer(shapely.buffer(area, half_kerf_mm), -half_kerf_mm) - area
    return [
        _place(piece, whole=False)
        for piece in as_area(left).geoms
        if _length_mm(piece) >= 2.0 * NARROW_LENGTH_KERFS * half_kerf_mm
        and piece.area / _length_mm(piece) >= 2.0 * NARROW_WIDTH_KERFS * half_kerf_mm
    ]


_MITRED = {"join_style": "mitre", "mitre_limit": MITRE_LIMIT}


def _area(edge: Path) -> MultiPolygon:
    return as_area(shapely.make_valid(Polygon(edge.points)))


def _length_mm(area: Polygon | MultiPolygon) -> float:
    x0, y0, x1, y1 = area.bounds
    return float(np.hypot(x1 - x0, y1 - y0))


def _place(area: Polygon | MultiPolygon, *, whole: bool) -> NarrowPlace:
    inside = shapely.point_on_surface(area)
    return NarrowPlace(float(inside.x), float(inside.y), _length_mm(area), whole)
