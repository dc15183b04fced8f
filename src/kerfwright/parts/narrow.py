"""Finds where an area is narrow: bridges, fingers, and areas that are thin all over.

Opening an area (shrinking it by half a width, then growing it by as much) takes away whatever is
narrower than that width, and rounds the corners (Serra, *Image Analysis and Mathematical
Morphology*, 1982). What it took is sorted by how it joined the rest: a bridge joins it at two
places or more, a finger at one and keeps its width, and a corner or a sharp tip, at one too, runs
out to nothing. Only bridges and fingers are narrow places; how narrow is then measured between
the area's own edges, so that no rounding gets into it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon, STRtree
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from kerfwright.geometry.regions import as_area
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.parts.containment import less

QUARTER_STEPS = 16
"""Pieces of a quarter of a circle while growing and shrinking."""

ROUNDING = 0.01
"""Share of the half width that flattening, of those circles and of a fillet, may take away."""

LONG = 1.5
"""A finger is longer than this many times its mouth; shorter ones are corners."""

FULL = 0.6
"""A finger fills this share of mouth times length; a tip that runs out to a point half of it."""


@dataclass(frozen=True, slots=True)
class NarrowPlace:
    """A place narrower than was asked for: ``width_mm`` across, measured at (x_mm, y_mm).

    ``length_mm`` is how far it stays narrower than was asked for. ``everywhere`` says that the
    area, or all of it beyond this place, is nowhere wider than ``width_mm``.
    """

    width_mm: float
    length_mm: float
    x_mm: float
    y_mm: float
    everywhere: bool = False


def narrow_places(area: BaseGeometry, width_mm: float) -> tuple[NarrowPlace, ...]:
    """Places of an area (polygons, in mm) that are narrower than ``width_mm``, narrowest first."""
    sound = as_area(area if area.is_valid else shapely.make_valid(area))
    found = [place for polygon in sound.geoms for place in _of_polygon(polygon, width_mm)]
    return tuple(sorted(found, key=lambda place: (place.width_mm, place.x_mm, place.y_mm)))


def _of_polygon(polygon: Polygon, width_mm: float) -> Iterator[NarrowPlace]:
    half_mm = width_mm / 2.0
    slack_mm = SAME_MM + ROUNDING * half_mm
    opened = polygon.buffer(-half_mm, quad_segs=QUARTER_STEPS).buffer(
        half_mm + slack_mm, quad_segs=QUARTER_STEPS
    )
    lost = polygon if opened.is_empty else less(polygon, opened)
    pieces = [piece for piece in as_area(lost).geoms if piece.area > slack_mm**2]
    if not pieces:
        return
    near = opened.buffer(SAME_MM, quad_segs=2)
    edges = [_chains(piece, near) for piece in pieces]
    corners: list[LineString] = []
    for piece, free in zip(pieces, edges, strict=True):
        if not free:
            # a blunt corner of a flattened curve, no further from the rest than rounding reaches
            continue
        if len(free) == 1 and not free[0].is_ring and not _is_finger(piece, free[0]):
            corners += free
            continue
        place = _place(piece, free, polygon)
        if place.width_mm < width_mm - 2.0 * SAME_MM:
            yield place
    yield from _between(corners, polygon, width_mm)


def _is_finger(piece: Polygon, edge: LineString) -> bool:
    """Whether a piece that joins the rest at one place keeps its width, and is no corner or tip."""
    mouth_mm, deep_mm = _mouth_and_depth(edge)
    return deep_mm >= LONG * mouth_mm and piece.area >= FULL * mouth_mm * deep_mm


def _mouth_and_depth(edge: LineString) -> tuple[float, float]:
    mouth_mm = float(np.hypot(*np.subtract(edge.coords[0], edge.coords[-1])))
    return mouth_mm, (edge.length - mouth_mm) / 2.0


def _place(piece: Polygon, edges: list[LineString], polygon: Polygon) -> NarrowPlace:
    """The narrowest place of a piece with these free edges, measured across the ``polygon``."""
    if len(edges) > 1:
        pairs = [(one, edges[n]) for number, one in enumerate(edges) for n in range(number)]
        length_mm = max(edge.length for edge in edges)
    elif edges and not edges[0].is_ring:
        pairs = [
            (
                substring(edges[0], 0.12, 0.25, normalized=True),
                substring(edges[0], 0.75, 0.88, normalized=True),
            )
        ]
        length_mm = _mouth_and_depth(edges[0])[1]
    else:
        return _whole(piece)
    lines = [shapely.shortest_line(one, other) for one, other in pairs]
    for line in sorted(lines, key=lambda line: line.length):
        if _goes_across(line, polygon):
            return _at(line, length_mm)
    return _whole(piece)


def _between(edges: list[LineString], polygon: Polygon, width_mm: float) -> Iterator[NarrowPlace]:
    """Places between edges that opening left joined: circles from both sides met in the middle."""
    if len(edges) < 2:
        return
    within_mm = width_mm - 2.0 * SAME_MM
    lines = np.array(edges, dtype=object)
    one, other = STRtree(lines).query(lines, predicate="dwithin", distance=within_mm)
    for i, j in zip(one[one < other].tolist(), other[one < other].tolist(), strict=True):
        across = shapely.shortest_line(edges[i], edges[j])
        if _goes_across(across, polygon):
            yield _at(across, max(edges[i].length, edges[j].length))


def _goes_across(line: LineString, polygon: Polygon) -> bool:
    """Whether a line between two edges spans material: its middle is as far from every edge."""
    middle = line.interpolate(0.5, normalized=True)
    off_mm = polygon.boundary.distance(middle) - line.length / 2.0
    return bool(abs(off_mm) <= SAME_MM + ROUNDING * line.length and polygon.distance(middle) == 0.0)


def _chains(piece: Polygon, rest: BaseGeometry) -> list[LineString]:
    """Stretches of the edge of a lost piece that do not border on the ``rest``."""
    free = less(piece.boundary, rest)
    merged = shapely.line_merge(free) if free.geom_type == "MultiLineString" else free
    lines = getattr(merged, "geoms", [merged])
    return [line for line in lines if line.length > 4.0 * SAME_MM]


def _whole(polygon: Polygon) -> NarrowPlace:
    """Width of an area that is narrow all over: of the largest circle in it."""
    radius = shapely.maximum_inscribed_circle(polygon, tolerance=10.0 * SAME_MM)
    (x_mm, y_mm), _ = radius.coords
    return NarrowPlace(2.0 * radius.length, polygon.length / 2.0, float(x_mm), float(y_mm), True)


def _at(across: LineString, length_mm: float) -> NarrowPlace:
    x_mm, y_mm = across.interpolate(0.5, normalized=True).coords[0]
    return NarrowPlace(across.length, length_mm, float(x_mm), float(y_mm))
