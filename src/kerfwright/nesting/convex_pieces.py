"""Areas taken apart into convex pieces.

Triangles of a constrained Delaunay triangulation, joined across inner edges as long as the piece
stays convex: at most four times as many pieces as the best decomposition has (S. Hertel &
K. Mehlhorn 1983, *Fast triangulation of simple polygons*).
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area

STRAIGHT = 1e-12
"""A corner whose sine is above the negative of this counts as convex."""

SLIVER_MM2 = 1e-12
"""Triangles with less area are rounding."""

MOST_POINTS = 64
"""Outlines with more points are coarsened outward before they are taken apart."""

MOST_CONVEX_POINTS = 100
"""Convex outlines stay exact up to so many."""

LEAST_ALLOWANCE_MM = 0.005
"""Outlines of more points are coarsened by so much at least: exact they would take minutes."""

COARSER = (1.0, 2.0, 4.0, 8.0)
"""Times the allowance, until there are few enough points; after that the hull has to do."""

Point = tuple[float, float]


def hull_of(area: BaseGeometry) -> FloatArray:
    """Corners of the convex hull, counter-clockwise, shape (n, 2)."""
    hull = shapely.convex_hull(area)
    points = shapely.get_coordinates(shapely.geometry.polygon.orient(hull))[:-1]
    return np.ascontiguousarray(points)


def convex_pieces(area: BaseGeometry, *, allowance_mm: float) -> list[FloatArray]:
    """Return convex pieces that together cover ``area``, each counter-clockwise, shape (n, 2).

    Polygons of few points are covered exactly: convex ones up to :data:`MOST_CONVEX_POINTS`, others
    up to :data:`MOST_POINTS`. One of more is covered with an excess of about twice
    ``allowance_mm`` (at least :data:`LEAST_ALLOWANCE_MM`) along its lines, somewhat more at its
    corners; where that leaves too many points with up to eight times as much, in the end by its
    hull.
    """
    pieces: list[FloatArray] = []
    for polygon in as_area(area).geoms:
        hull = shapely.convex_hull(polygon)
        if hull.area - polygon.area <= 1e-9 * hull.area:
            coarse = _coarsened(hull, allowance_mm, MOST_CONVEX_POINTS)
            pieces.append(hull_of(coarse))
        else:
            for coarse in as_area(_coarsened(polygon, allowance_mm, MOST_POINTS)).geoms:
                pieces += _joined(_triangles(coarse))
    return pieces


def exact_pieces(area: BaseGeometry) -> list[FloatArray]:
    """Return convex pieces that together are ``area``, whatever number of points it has."""
    return [piece for polygon in as_area(area).geoms for piece in _joined(_triangles(polygon))]


def _coarsened(polygon: Polygon, allowance_mm: float, most_points: int) -> BaseGeometry:
    """An area around a polygon with few points."""
    if shapely.get_num_coordinates(polygon) <= most_points + 1:
        return polygon
    around: BaseGeometry = polygon
    for times in COARSER:
        by_mm = times * max(allowance_mm, LEAST_ALLOWANCE_MM)
        grown = polygon.buffer(by_mm, join_style="mitre", mitre_limit=2.0)
        # Douglas-Peucker strays by at most its tolerance; a little less than the growth is safe
        coarse = shapely.make_valid(grown.simplify(0.95 * by_mm))
        if coarse.covers(polygon):
            around = coarse
            if shapely.get_num_coordinates(coarse) <= most_points:
                return around
    few = shapely.get_num_coordinates(around) <= 4 * most_points
    return around if few else shapely.convex_hull(around)


def _triangles(polygon: Polygon) -> list[list[Point]]:
    triangles = []
    for triangle in shapely.constrained_delaunay_triangles(polygon).geoms:
        if triangle.area > SLIVER_MM2:
            corners = shapely.get_coordinates(shapely.geometry.polygon.orient(triangle))[:3]
            triangles.append([(float(x), float(y)) for x, y in corners])
    return triangles


def _joined(triangles: list[list[Point]]) -> list[FloatArray]:
    """Join neighbours across the longest common edges first, as long as they stay convex."""
    pieces: dict[int, list[Point]] = dict(enumerate(triangles))
    owner = {i: i for i in pieces}
    sides: dict[tuple[Point, Point], int] = {}
    inner: list[tuple[float, Point, Point, int, int]] = []
    for i, triangle in pieces.items():
        for a, b in zip(triangle, [*triangle[1:], triangle[0]], strict=True):
            other = sides.get((b, a))
            if other is not None:
                inner.append((-math.dist(a, b), a, b, i, other))
            sides[a, b] = i

    def root(i: int) -> int:
        while owner[i] != i:
            i = owner[i]
        return i

    for _, a, b, one, other in sorted(inner):
        i, j = root(one), root(other)
        if i == j:
            continue
        merged = _merged(pieces[i], pieces[j], a, b)
        if merged is not None:
            pieces[i] = merged
            owner[j] = i
            del pieces[j]
    return [np.array(piece) for piece in pieces.values()]


def _merged(one: list[Point], other: list[Point], a: Point, b: Point) -> list[Point] | None:
    """One piece of two that share the edge from a to b (b to a in ``other``), if it is convex."""
    i, j = one.index(b), other.index(a)
    # from b round to a along the one, then from a round to b along the other, without ends twice
    ring = one[i:] + one[:i] + (other[j:] + other[:j])[1:-1]
    if len(set(ring)) < len(ring):
        return None
    for corner in (len(one) - 1, 0):
        if not _is_convex(ring[corner - 1], ring[corner], ring[(corner + 1) % len(ring)]):
            return None
    return ring


def _is_convex(before: Point, at: Point, after: Point) -> bool:
    ux, uy = at[0] - before[0], at[1] - before[1]
    vx, vy = after[0] - at[0], after[1] - at[1]
    return ux * vy - uy * vx >= -STRAIGHT * math.hypot(ux, uy) * math.hypot(vx, vy)
