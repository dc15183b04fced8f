"""What rows over some polygons take at any angle: turns, burns and gaps, rows closing edges left
out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numba import njit
from shapely import Polygon

from kerfwright.engraving.burn import Burn, RowMotion, row_motion
from kerfwright.engraving.rows_kernel import IntArray, along_s, cross_rows
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine

THIN_INTERVALS = 0.1
"""How far outlines of the model may stray."""

ROWS_ACROSS = 30
"""Rows of the model across a polygon of middling height."""

COARSEST_INTERVALS = 6.0

CROSSINGS = 4
"""Edges that a row through a polygon crosses, more or less."""

FINER_DEG = (4.0, 2.0, 1.0, 0.5, 0.25)
"""Steps by which an angle is made better."""

LEAST_S = 1e-3
"""A change that saves less is none."""


class RowModel:
    """Rows over any of some polygons; ``looked`` counts the edges that they crossed."""

    def __init__(self, polygons: Sequence[Polygon], burn: Burn, machine: Machine) -> None:
        self.burn, self.machine = burn, machine
        outlines = np.array(polygons)
        bounds = shapely.bounds(outlines)
        self.height_mm: FloatArray = np.min(bounds[:, 2:] - bounds[:, :2], axis=1)
        interval = burn.interval_mm
        step = float(np.median(self.height_mm)) / ROWS_ACROSS
        self.step_mm = min(max(step, interval), COARSEST_INTERVALS * interval)
        edges = [_edges(one) for one in shapely.simplify(outlines, THIN_INTERVALS * interval)]
        self.first: IntArray = np.concatenate([[0], np.cumsum([len(own) for own in edges])])
        self.edges = np.vstack(edges)
        self.looked = 0
        self._numbers: dict[float, FloatArray] = {}

    def seconds(self, members: Sequence[int], angles_deg: Sequence[float]) -> FloatArray:
        """Seconds of rows over the members at every angle, gaps crossed or turned at."""
        for angle in angles_deg:
            if angle not in self._numbers:
                self._numbers[angle] = gap_numbers(row_motion(self.machine, self.burn, angle))
        picked = np.array(members, dtype=np.int64)
        crossed = CROSSINGS * self.height_mm[picked].sum() / self.step_mm
        edges = (self.first[picked + 1] - self.first[picked]).sum()
        self.looked += int(len(angles_deg) * (crossed + edges))
        numbers = np.array([self._numbers[angle] for angle in angles_deg])
        angles = np.array(angles_deg, dtype=np.float64)
        model = rows_s(self.edges, self.first, picked, angles, numbers, self.step_mm)
        seconds: FloatArray = model * (self.step_mm / self.burn.interval_mm)
        return seconds


def finer_angle(
    angle_deg: float, seconds: float, seconds_at: Callable[[Sequence[float]], FloatArray]
) -> tuple[float, float]:
    """A better angle near by and its seconds, by steps that get smaller; the given one if none."""
    for step in FINER_DEG:
        while True:
            tried = [round((angle_deg + by) % 180.0, 3) % 180.0 for by in (-step, step)]
            found = seconds_at(tried)
            at = int(np.argmin(found))
            if found[at] >= seconds - LEAST_S:
                break
            angle_deg, seconds = tried[at], float(found[at])
    return angle_deg, seconds


def _edges(polygon: Polygon) -> FloatArray:
    rings = [np.asarray(ring.coords)[:, :2] for ring in (polygon.exterior, *polygon.interiors)]
    return np.vstack([np.hstack([ring[:-1], ring[1:]]) for ring in rings])


def gap_numbers(motion: RowMotion) -> FloatArray:
    """What :func:`rows_s` has to know of rows at one angle, shape (9,)."""
    travel = [motion.travel.speed_mm_s, motion.travel.acceleration_mm_s2]
    return np.concatenate([motion.closed_form, [motion.run_up_mm, *travel, motion.settle_s]])


@njit(cache=True)
def rows_s(
    edges: FloatArray,
    first: IntArray,
    members: IntArray,
    angles_deg: FloatArray,
    numbers: FloatArray,
    step_mm: float,
) -> FloatArray:
    """Seconds of rows ``step_mm`` apart over some polygons, at every angle.

    Args:
        edges: x0, y0, x1, y1 of all polygons' edges, shape (n, 4), in mm.
        first: polygon p has the edges ``first[p]`` to ``first[p + 1]``.
        members: the polygons that share rows.
        angles_deg: the angles to look at.
        numbers: :func:`gap_numbers` of every angle, shape (angles, 9).
        step_mm: distance of rows; they lie at its multiples, whatever the polygons.

    Returns:
        Seconds for each angle, every gap crossed, jumped or turned at, whatever is fastest.

    """
    count = 0
    for p in members:
        count += first[p + 1] - first[p]
    turned = np.empty((count, 4))
    out = np.empty(len(angles_deg))
    for k in range(len(angles_deg)):
        c, s = math.cos(math.radians(angles_deg[k])), math.sin(math.radians(angles_deg[k]))
        e = 0
        low, high = np.inf, -np.inf
        for p in members:
            for i in range(first[p], first[p + 1]):
                for at in (0, 2):
                    x, y = edges[i, at], edges[i, at + 1]
                    turned[e, at] = c * x + s * y
                    turned[e, at + 1] = c * y - s * x
                    low = min(low, turned[e, at + 1])
                    high = max(high, turned[e, at + 1])
                e += 1
        row = math.ceil(low / step_mm)
        rows = max(math.floor(high / step_mm) - row + 1, 1)
        start, x_at = cross_rows(turned, row * step_mm, step_mm, rows)
        out[k] = _driven_s(start, x_at, numbers[k])
    return out


@njit(cache=True)
def _driven_s(start: IntArray, x: FloatArray, numbers: FloatArray) -> float:
    total = 0.0
    for k in range(len(start) - 1):
        if start[k + 1] > start[k]:
            total += _row_s(x[start[k] : start[k + 1]], numbers)
    return total


@njit(cache=True)
def _row_s(x: FloatArray, numbers: FloatArray) -> float:
    """Seconds of one row, its gaps crossed, jumped or turned at."""
    turn_s = numbers[4]
    total = turn_s
    begun = x[0]
    for i in range(2, len(x) - 1, 2):
        gap, after = x[i] - x[i - 1], x[i + 1] - x[i]
        ended = along_s(x[i - 1] - begun, numbers)
        crossed = along_s(x[i + 1] - begun, numbers) - ended - along_s(after, numbers)
        between = min(_jump_s(gap, numbers), turn_s)
        if crossed > between:
            total += ended + between
            begun = x[i]
    return float(total + along_s(x[len(x) - 1] - begun, numbers))


@njit(cache=True)
def _jump_s(gap: float, numbers: FloatArray) -> float:
    """Seconds over one gap, as :meth:`kerfwright.engraving.burn.RowMotion.jump_s`."""
    u, run_up, top, a, settle = numbers[1], numbers[5], numbers[6], numbers[7], numbers[8]
    middle = gap - 2.0 * run_up
    if middle <= 0.0 or top <= u:
        return math.inf
    end = 0.0 if settle > 0.0 else u
    mean2 = 0.5 * (u * u + end * end)
    peak = min(math.sqrt(mean2 + a * middle), top)
    if peak <= u:
        return math.inf
    travel = (2.0 * peak - u - end) / a + max(middle - (peak * peak - mean2) / a, 0.0) / peak
    run_ups = (3.0 if settle > 0.0 else 2.0) * run_up / u
    return float(travel + settle + run_ups + gap * numbers[3])
