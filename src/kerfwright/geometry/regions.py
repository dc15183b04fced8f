"""Areas as shapely polygons, made from lines and turned back into them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np
import pyclipr
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM

FillRule = Literal["nonzero", "evenodd"]

CLIPPER_UNITS_PER_MM = 1_000_000
"""Integer grid of the clipping library: a nanometre."""


def filled(paths: Sequence[Path], rule: FillRule) -> MultiPolygon:
    """Area that ``paths`` fill, open ones closed by a straight line, as SVG 1.1 section 11.3."""
    rings = [path.points for path in paths if len(path.points) >= 3]
    if not rings:
        return MultiPolygon()
    clipper = pyclipr.Clipper()
    clipper.scaleFactor = CLIPPER_UNITS_PER_MM
    for ring in rings:
        clipper.addPath(ring, pyclipr.Subject, False)
    fill = pyclipr.FillRule.NonZero if rule == "nonzero" else pyclipr.FillRule.EvenOdd
    return from_tree(clipper.execute2(pyclipr.Union, fill))


def are_straight(paths: Iterable[Path]) -> bool:
    """Whether none of ``paths`` encloses an area, closed or not: each lies on a straight line."""
    return all(_is_straight(path.points) for path in paths)


def _is_straight(points: FloatArray) -> bool:
    if len(points) < 3:
        return True
    off = points - points[0]
    along = off[np.argmax((off * off).sum(axis=1))]
    aside = np.abs(off[:, 0] * along[1] - off[:, 1] * along[0])
    return bool(aside.max() <= SAME_MM * np.hypot(*along))


def from_tree(root: pyclipr.PolyTreeD | object) -> MultiPolygon:
    """Turn the clipping library's tree of outlines and holes into polygons."""
    polygons: list[Polygon] = []
    waiting = list(root.children)  # type: ignore[union-attr]
    while waiting:
        outline = waiting.pop()
        holes = [hole.polygon for hole in outline.children if len(hole.polygon) >= 3]
        if len(outline.polygon) >= 3:
            polygons.append(Polygon(outline.polygon, holes))
        for hole in outline.children:
            waiting.extend(hole.children)
    return as_area(shapely.make_valid(MultiPolygon(polygons)) if polygons else MultiPolygon())


def as_area(geometry: BaseGeometry) -> MultiPolygon:
    """Keep the polygons of any geometry."""
    if isinstance(geometry, MultiPolygon):
        return geometry
    if isinstance(geometry, Polygon):
        return MultiPolygon([geometry]) if not geometry.is_empty else MultiPolygon()
    parts = [part for part in getattr(geometry, "geoms", ()) if part.area > 0.0]
    polygons = [polygon for part in parts for polygon in as_area(part).geoms]
    return MultiPolygon(polygons)


def polygon_of(outline: Path, holes: Iterable[Path] = ()) -> Polygon:
    """Polygon bounded by closed paths."""
    return Polygon(outline.points, [hole.points for hole in holes])


def rings_of(area: BaseGeometry) -> list[FloatArray]:
    """Every ring of an area as points of shape (n, 2), first point not repeated."""
    return [
        np.asarray(ring.coords, dtype=np.float64)[:-1, :2]
        for polygon in as_area(area).geoms
        for ring in (polygon.exterior, *polygon.interiors)
    ]
