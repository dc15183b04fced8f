"""Circles that stand for an area where its outline would take too long."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray

SMALLEST_CIRCLE = 0.04
"""Circles below this share of the first one tell nothing more."""

GRID_CELLS = 900
"""Points of the grid on which all but the first circle are centred."""


def inscribed_circles(area: BaseGeometry, most: int) -> FloatArray:
    """Largest circle in an area, then the largest beside it, and so on.

    Returns centres and radii, shape (n, 3), at most ``most``; the circles do not overlap.
    """
    centre = np.array(shapely.maximum_inscribed_circle(area).coords)
    circles = [(*centre[0], float(np.hypot(*(centre[1] - centre[0]))))]
    points = _grid(area)
    room = shapely.distance(shapely.boundary(area), shapely.points(points))
    while len(circles) < most and len(points):
        x, y, radius = circles[-1]
        room = np.minimum(room, np.hypot(points[:, 0] - x, points[:, 1] - y) - radius)
        k = int(room.argmax())
        if room[k] < SMALLEST_CIRCLE * circles[0][2]:
            break
        circles.append((float(points[k, 0]), float(points[k, 1]), float(room[k])))
    return np.array(circles)


def _grid(area: BaseGeometry) -> FloatArray:
    x_low, y_low, x_high, y_high = area.bounds
    step = math.sqrt((x_high - x_low) * (y_high - y_low) / GRID_CELLS)
    across, along = (max(int(span / step), 3) for span in (x_high - x_low, y_high - y_low))
    x, y = np.meshgrid(
        np.linspace(x_low, x_high, across + 2)[1:-1], np.linspace(y_low, y_high, along + 2)[1:-1]
    )
    points = np.column_stack([x.ravel(), y.ravel()])
    return np.asarray(points[shapely.contains_xy(area, points)])
