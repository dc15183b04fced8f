"""Areas drawn in from edges by a distance, never by less than it but for rounding (1e-7 mm)."""

from __future__ import annotations

import math
from collections.abc import Iterable

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.regions import as_area

QUARTER_STEPS = 16
"""Chords in a quarter of the circle round a corner."""

ROUND = 1.0 / math.cos(math.pi / (4 * QUARTER_STEPS))
"""Radius of a polygon's corners over that of the circle that it goes round."""


def kept_inside(area: Polygon, margin_mm: float) -> MultiPolygon:
    """What of an area is at least ``margin_mm`` from its edge, holes' edges included."""
    return as_area(area.difference(_grown(area.boundary, margin_mm)))


def kept_off(area: MultiPolygon, zones: Iterable[Polygon], around_mm: float) -> MultiPolygon:
    """What of an area is at least ``around_mm`` from every zone."""
    grown = [_grown(zone, around_mm) for zone in zones]
    return as_area(area.difference(shapely.union_all(grown))) if grown else area


def _grown(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """At least ``by_mm`` all round: chords alone would cut the rounds at corners short."""
    if by_mm <= 0.0:
        return shape
    corners = shapely.points(shapely.get_coordinates(shape))
    rounds = shapely.buffer(corners, by_mm * ROUND, quad_segs=QUARTER_STEPS)
    straight = shape.buffer(by_mm, quad_segs=QUARTER_STEPS)
    return shapely.union_all([straight, *rounds])
