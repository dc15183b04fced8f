"""Whether a rectangle fits into a piece of any shape.

The rectangle's lower left corner may lie where no edge of the piece passes through the rectangle's
inside: each edge forbids the convex area that it sweeps when it is moved by the rectangle turned
about its corner (a Minkowski sum; Lozano-Pérez 1983, *Spatial planning: a configuration space
approach*, IEEE Transactions on Computers C-32, from memory). What is left of the piece holds every
place there is, so that the answer is exact for sides along x and y.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, box

SLACK_MM = 0.01
"""A rectangle may be so much smaller than was asked for: one as wide as the piece does fit."""

ROUNDING_MM = 1e-6
"""Coordinates are no more exact than this."""


def place_for(area: Polygon, width_mm: float, height_mm: float) -> tuple[float, float] | None:
    """Return a lower left corner at which an upright rectangle lies inside ``area``, if any."""
    width_mm, height_mm = max(width_mm - SLACK_MM, 1e-6), max(height_mm - SLACK_MM, 1e-6)
    x_low, y_low, x_high, y_high = area.bounds
    if width_mm > x_high - x_low or height_mm > y_high - y_low:
        return None
    rings = [np.asarray(ring.coords)[:, :2] for ring in (area.exterior, *area.interiors)]
    starts = np.concatenate([ring[:-1] for ring in rings])
    ends = np.concatenate([ring[1:] for ring in rings])
    swept = np.array([(0.0, 0.0), (-width_mm, 0.0), (-width_mm, -height_mm), (0.0, -height_mm)])
    corners = np.concatenate([starts[:, None] + swept, ends[:, None] + swept], axis=1)
    barred = shapely.convex_hull(
        shapely.multipoints(corners.reshape(-1, 2), indices=np.repeat(np.arange(len(starts)), 8))
    )
    free = area.difference(shapely.union_all(barred))
    within = area.buffer(ROUNDING_MM)
    for part in sorted(shapely.get_parts(free), key=lambda part: -part.area):
        if part.area < ROUNDING_MM:
            break  # what rounding leaves along the edges; the slack makes any true place larger
        point = part.representative_point()
        if within.covers(box(point.x, point.y, point.x + width_mm, point.y + height_mm)):
            return float(point.x), float(point.y)
    return None


def fits(area: Polygon, width_mm: float, height_mm: float) -> bool:
    """Whether a rectangle fits into ``area``, as it is or turned a quarter."""
    sizes = ((width_mm, height_mm), (height_mm, width_mm))
    return any(place_for(area, *size) is not None for size in sizes)
