"""Simple polygons that stand for bodies while they are placed.

The placing engine takes one simple polygon without holes for each body, and few points. A
footprint always contains its body, so what is legal for footprints is legal for bodies.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.nesting.model import Body

MOST_POINTS = 64
"""More points than this slow placing down and place no better."""

FEWEST_POINTS = 24
POINTS_IN_ALL = 16_000
"""Of many different bodies each gets fewer points, down to :data:`FEWEST_POINTS`."""

ENGINE_POINTS = 40
"""What the engine searches quickly; its layout is drawn together on finer outlines after."""

ENGINE_COARSEST = 0.004
"""Furthest that the engine's outlines are coarsened, as a share of their size."""

FINEST_MM = 0.02
"""Outward allowance where parts may touch."""

COARSEST = 0.02
"""Furthest that a ragged outline is smoothed, as a share of its size."""

BRIDGE_MM = 0.05
"""Half the width of the bridges that join the pieces of one body."""

HAIR_MM = 2e-10
"""Room for the last digits of a turn, so that a box never cuts into its own outline."""

MANY_TURNS = 8
"""Beyond so many different turns a footprint is not trimmed to its body's boxes."""


def material(body: Body) -> MultiPolygon:
    """The body's true area: its polygons joined, broken ones mended."""
    polygons = [p if p.is_valid else shapely.make_valid(p) for p in body.footprint]
    return as_area(shapely.union_all(polygons))


def footprint(
    area: BaseGeometry,
    *,
    allowance_mm: float,
    turns_deg: Iterable[float] = (0.0,),
    most_points: int = MOST_POINTS,
) -> FloatArray:
    """Points of a simple polygon that contains ``area``, counter-clockwise, shape (n, 2), in mm.

    Holes are filled and separate pieces bridged. An outline of at most ``most_points``
    points stays as it is; another is simplified outward by at most ``allowance_mm``, or as
    much more as brings it to twice that number (:data:`COARSEST` at most), without growing the
    body's bounding box in any of ``turns_deg``.
    """
    outline = _bridged(as_area(area))
    exact = shapely.remove_repeated_points(outline.simplify(0.0), 1e-9)
    if not exact.is_valid or not exact.covers(outline):
        exact = outline
    if _points(exact) > most_points:
        exact = _simplified(exact, allowance_mm, turns_deg, most_points)
    return rings_of(shapely.geometry.polygon.orient(exact))[0]


def _points(polygon: Polygon) -> int:
    return len(polygon.exterior.coords) - 1


def _filled(area: BaseGeometry) -> MultiPolygon:
    return as_area(shapely.union_all([Polygon(p.exterior) for p in as_area(area).geoms]))


def _bridged(area: MultiPolygon) -> Polygon:
    """One outline around all pieces, holes filled: nearest pieces joined by thin bridges."""
    pieces = list(_filled(area).geoms)
    hull = shapely.convex_hull(area)
    joined = pieces.pop(0)
    while pieces:
        distances = shapely.distance(joined, pieces)
        piece = pieces.pop(int(distances.argmin()))
        bridge = _bridge(joined, piece).intersection(hull)
        grown = _filled(shapely.union_all([joined, piece, bridge])).geoms
        joined = grown[0] if len(grown) == 1 else shapely.convex_hull(MultiPolygon(list(grown)))
        # a filled hole may have taken in pieces that lay inside it
        pieces = [p for p in pieces if not joined.covers(p)]
    return joined


def _bridge(one: Polygon, other: Polygon) -> Polygon:
    near, far = nearest_points(one, other)
    if near.distance(far) < BRIDGE_MM:
        return near.buffer(2.0 * BRIDGE_MM, quad_segs=1)
    return LineString([near, far]).buffer(BRIDGE_MM, cap_style="square")


def _simplified(
    outline: Polygon, allowance_mm: float, turns_deg: Iterable[float], most_points: int
) -> Polygon:
    cap = _boxes(outline, turns_deg)
    coarsest_mm = max(allowance_mm, COARSEST * math.sqrt(outline.area))
    step_mm = allowance_mm / 2.0
    best = outline
    while step_mm <= coarsest_mm:
        found = _grown(outline, step_mm, cap)
        if found is not None and _points(found) < _points(best):
            best = found
        if _points(best) <= (most_points if step_mm < allowance_mm else 2 * most_points):
            break
        step_mm *= 2.0
    return best


def _grown(outline: Polygon, step_mm: float, cap: BaseGeometry | None) -> Polygon | None:
    """Grow by a step, drop points that lie within it; ``None`` if that lost something."""
    # Douglas-Peucker strays by at most its tolerance; a little less than the growth is safe
    simple = shapely.make_valid(
        outline.buffer(step_mm, join_style="mitre").simplify(0.95 * step_mm)
    )
    if cap is not None:
        simple = simple.intersection(cap)
    holding = [p for p in _filled(simple).geoms if p.covers(outline)]
    return holding[0] if holding else None


def _boxes(outline: Polygon, turns_deg: Iterable[float]) -> BaseGeometry | None:
    """Where the outline may grow without growing its bounding box in any turn."""
    angles = sorted({turn % 90.0 for turn in turns_deg})
    if len(angles) > MANY_TURNS:
        return None
    cap: BaseGeometry = shapely.box(*outline.bounds).buffer(outline.length)
    for angle in angles:
        x_low, y_low, x_high, y_high = _turned(outline, angle).bounds
        box = shapely.box(x_low - HAIR_MM, y_low - HAIR_MM, x_high + HAIR_MM, y_high + HAIR_MM)
        cap = cap.intersection(_turned(box, -angle))
    return cap


def _turned(geometry: BaseGeometry, angle_deg: float) -> BaseGeometry:
    return rotate(geometry, angle_deg, origin=(0.0, 0.0)) if angle_deg else geometry


def widened(ring: FloatArray, by_mm: float) -> FloatArray:
    """Points of a simple polygon at least ``by_mm`` around another, few enough for the engine."""
    outline = Polygon(ring)
    best = _outset(outline, by_mm, 0.0)
    step_mm = min(FINEST_MM, ENGINE_COARSEST * math.sqrt(outline.area))
    while _points(best) > ENGINE_POINTS and step_mm <= ENGINE_COARSEST * math.sqrt(outline.area):
        best = min(best, _outset(outline, by_mm, step_mm), key=_points)
        step_mm *= 2.0
    return rings_of(shapely.geometry.polygon.orient(best))[0]


def _outset(outline: Polygon, by_mm: float, step_mm: float) -> Polygon:
    grown = outline.buffer(by_mm + step_mm, join_style="mitre", mitre_limit=2.0)
    grown = _filled(shapely.make_valid(grown.simplify(0.95 * step_mm)))
    return max(grown.geoms, key=lambda polygon: polygon.area)


def outlines(bodies: Sequence[Body], *, spacing_mm: float) -> list[MultiPolygon]:
    """Footprints with the holes in which another of the bodies might lie.

    Each contains its body and is contained in its ring of :func:`footprints`; the gaps between
    the pieces of one body stay closed unless one piece encloses them.
    """
    smallest_mm2 = min((material(body).area for body in bodies), default=0.0)
    return [
        _with_holes(ring, material(body), spacing_mm, smallest_mm2)
        for body, ring in zip(bodies, footprints(bodies, spacing_mm=spacing_mm), strict=True)
    ]


def _with_holes(
    ring: FloatArray, area: MultiPolygon, spacing_mm: float, smallest_mm2: float
) -> MultiPolygon:
    holes = [Polygon(hole) for polygon in area.geoms for hole in polygon.interiors]
    step_mm = spacing_mm / 8.0 if spacing_mm > 0.0 else FINEST_MM
    free = [
        polygon
        for hole in holes
        if hole.buffer(-spacing_mm).area >= smallest_mm2
        for polygon in as_area(_shrunk(hole.difference(area), step_mm)).geoms
        if polygon.area >= smallest_mm2
    ]
    return as_area(Polygon(ring).difference(shapely.union_all(free)))


def _shrunk(hole: BaseGeometry, step_mm: float) -> BaseGeometry:
    """A hole with few points that lies within the true one."""
    if len(shapely.get_coordinates(hole)) <= MOST_POINTS + 1:
        return hole
    smaller = hole.buffer(-step_mm, join_style="mitre")
    return shapely.make_valid(smaller.simplify(0.95 * step_mm)).intersection(hole)


def box_footprint(area: BaseGeometry) -> FloatArray:
    """Corners of the bounding box, the footprint that cannot go wrong."""
    return rings_of(shapely.geometry.polygon.orient(shapely.box(*area.bounds)))[0]


def footprints(bodies: Sequence[Body], *, spacing_mm: float) -> list[FloatArray]:
    """One footprint for each body, outward by at most a quarter of the spacing or 0.1 mm."""
    allowance_mm = min(0.1, spacing_mm / 4.0) if spacing_mm > 0.0 else FINEST_MM
    share = min(max(POINTS_IN_ALL // max(len(bodies), 1), FEWEST_POINTS), MOST_POINTS)
    return [
        footprint(
            material(body),
            allowance_mm=allowance_mm,
            turns_deg=body.turns_deg,
            most_points=share,
        )
        for body in bodies
    ]
