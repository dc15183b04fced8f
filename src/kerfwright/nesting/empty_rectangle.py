"""The largest axis-parallel rectangle of an area.

The area is cut by all its vertices' coordinates into cells, each free or not; the largest free
rectangle of cells is then the largest under one of the histograms that stand on the rows, found
with a stack in one pass over each (Vandevoorde 1998, *The maximal rectangle problem*, Dr. Dobb's
Journal; the set of all maximal empty rectangles: Naamad, Lee & Hsu 1984, Discrete Applied
Mathematics 8 — both from memory). For areas with axis-parallel edges the result is exact; with
sloping or curved edges it is a rectangle inside the area whose sides stand on its vertices or on a
grid of :data:`GRID_MM`.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from numba import njit
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray

GRID_MM = 2.0
"""Distance of the lines laid through an area whose edges slope."""

MOST_LINES = 400
"""Lines in each direction; with more vertices than this their coordinates are thinned out."""

SAME_MM = 1e-7
"""Coordinates this close are one line."""

BoolArray = npt.NDArray[np.bool_]


def largest_rectangle(area: BaseGeometry) -> Polygon:
    """Return the largest axis-parallel rectangle found inside ``area``; empty if there is none."""
    if area.is_empty:
        return Polygon()
    x_low, y_low, x_high, y_high = area.bounds
    points, starts = _edges(area)
    sloping = bool((np.abs(starts - points).min(axis=1) > SAME_MM).any())
    xs = _lines(points[:, 0], x_low, x_high, sloping=sloping)
    ys = _lines(points[:, 1], y_low, y_high, sloping=sloping)
    free = _free_cells(area, starts, points, xs, ys)
    left, bottom, right, top = _largest(free, xs, ys)
    if right <= left:
        return Polygon()
    return box(xs[left], ys[bottom], xs[right], ys[top])


def _edges(area: BaseGeometry) -> tuple[FloatArray, FloatArray]:
    """Ends and starts of all edges, each of shape (n, 2)."""
    rings = [np.asarray(ring.coords) for ring in _rings(area)]
    starts = np.vstack([ring[:-1, :2] for ring in rings])
    ends = np.vstack([ring[1:, :2] for ring in rings])
    return ends, starts


def _rings(area: BaseGeometry) -> list[BaseGeometry]:
    polygons = shapely.get_parts(area)
    return [ring for p in polygons for ring in (p.exterior, *p.interiors)]


def _lines(values: FloatArray, low: float, high: float, *, sloping: bool) -> FloatArray:
    lines = np.unique(values)
    lines = lines[np.append(True, np.diff(lines) > SAME_MM)]
    if sloping or len(lines) > MOST_LINES:
        steps = int(min(max((high - low) / GRID_MM, 1.0), MOST_LINES / 2))
        grid = np.linspace(low, high, steps + 1)
        if len(lines) > MOST_LINES // 2:
            nearest = np.searchsorted(lines, grid).clip(0, len(lines) - 1)
            lines = lines[np.unique(nearest)]
        lines = np.unique(np.concatenate([lines, grid]))
        lines = lines[np.append(True, np.diff(lines) > SAME_MM)]
    return np.asarray(lines)


def _free_cells(
    area: BaseGeometry, starts: FloatArray, ends: FloatArray, xs: FloatArray, ys: FloatArray
) -> BoolArray:
    """Cells that lie wholly inside, shape (rows, columns)."""
    crossed = np.zeros((len(ys) - 1, len(xs) - 1), dtype=np.bool_)
    _cross(crossed, starts, ends, xs, ys)
    middle_x, middle_y = np.meshgrid((xs[1:] + xs[:-1]) / 2, (ys[1:] + ys[:-1]) / 2)
    shapely.prepare(area)
    return np.asarray(shapely.contains_xy(area, middle_x, middle_y)) & ~crossed


@njit(cache=True)
def _cross(
    crossed: BoolArray, starts: FloatArray, ends: FloatArray, xs: FloatArray, ys: FloatArray
) -> None:  # pragma: no cover - compiled
    """Mark the cells through whose inside an edge passes."""
    rows, columns = crossed.shape
    for e in range(len(starts)):
        x0, y0, x1, y1 = starts[e, 0], starts[e, 1], ends[e, 0], ends[e, 1]
        if abs(x1 - x0) <= SAME_MM:
            k = np.searchsorted(xs, x0)
            if (k < len(xs) and abs(xs[k] - x0) <= SAME_MM) or (
                k > 0 and x0 - xs[k - 1] <= SAME_MM
            ):
                continue
        if abs(y1 - y0) <= SAME_MM:
            k = np.searchsorted(ys, y0)
            if (k < len(ys) and abs(ys[k] - y0) <= SAME_MM) or (
                k > 0 and y0 - ys[k - 1] <= SAME_MM
            ):
                continue
        low, high = min(x0, x1), max(x0, x1)
        first = max(np.searchsorted(xs, low + SAME_MM) - 1, 0)
        last = min(np.searchsorted(xs, high - SAME_MM), columns)
        for c in range(first, max(last, first + 1)):
            if c >= columns:
                break
            # the piece of the edge in this column, and the rows that it passes
            a, b = max(low, xs[c]), min(high, xs[c + 1])
            if high - low <= SAME_MM:
                ya, yb = y0, y1
            else:
                ya = y0 + (a - x0) / (x1 - x0) * (y1 - y0)
                yb = y0 + (b - x0) / (x1 - x0) * (y1 - y0)
            bottom, top = min(ya, yb), max(ya, yb)
            r = max(np.searchsorted(ys, bottom + SAME_MM) - 1, 0)
            while r < rows and ys[r] < top - SAME_MM:
                crossed[r, c] = True
                r += 1


@njit(cache=True)
def _largest(
    free: BoolArray, xs: FloatArray, ys: FloatArray
) -> tuple[int, int, int, int]:  # pragma: no cover - compiled
    """Columns and rows (left, bottom, right, top) of the largest rectangle of free cells."""
    rows, columns = free.shape
    base = np.zeros(columns, dtype=np.int64)
    stack_at = np.zeros(columns + 1, dtype=np.int64)
    stack_base = np.zeros(columns + 1, dtype=np.int64)
    best, best_mm2 = (0, 0, 0, 0), 0.0
    for r in range(rows):
        for c in range(columns):
            if not free[r, c]:
                base[c] = r + 1
        depth = 0
        for c in range(columns + 1):
            foot = base[c] if c < columns else r + 1
            left = c
            while depth > 0 and stack_base[depth - 1] < foot:
                depth -= 1
                left = stack_at[depth]
                size = (xs[c] - xs[left]) * (ys[r + 1] - ys[stack_base[depth]])
                if size > best_mm2:
                    best_mm2 = size
                    best = (left, stack_base[depth], c, r + 1)
            if c < columns and (depth == 0 or stack_base[depth - 1] > foot):
                stack_at[depth], stack_base[depth] = left, foot
                depth += 1
    return best
