"""Compiled search for the runs of a line's points that lie on one circular arc."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.curves import FloatArray

NO, STRAIGHT, ROUND = 0, 1, 2

MOST_TURN_RAD = math.pi * 1.01
"""A full circle becomes two arcs: ends that coincide leave no direction to find the centre by."""


@njit(cache=True)
def arc_runs(points: FloatArray, tolerance_mm: float, least_steps: int) -> FloatArray:
    """Runs of points that one arc stands for, each as long as can be, from the first point on.

    From each start the run is grown by doubling and then by halving (galloping search), so that
    the work is n log n.

    Args:
        points: shape (n, 2).
        tolerance_mm: furthest that points may lie from the arc, and the arc from the chords.
        least_steps: fewest straight pieces that are worth an arc.

    Returns:
        rows of first point, last point, centre x, centre y and sweep in rad, shape (k, 5).
    """
    count = len(points)
    found = np.empty((count // least_steps + 1, 5))
    runs = 0
    first = 0
    while first + least_steps < count:
        low, high = first, 0
        step = least_steps
        while True:
            last = min(first + step, count - 1)
            if _fit(points, first, last, tolerance_mm)[0] == NO:
                high = last
                break
            low = last
            if last == count - 1:
                break
            step *= 2
        while high - low > 1:
            middle = (low + high) // 2
            if _fit(points, first, middle, tolerance_mm)[0] == NO:
                high = middle
            else:
                low = middle
        kind, x, y, sweep = (
            _fit(points, first, low, tolerance_mm) if low > first else (NO, 0.0, 0.0, 0.0)
        )
        if kind == ROUND and low - first >= least_steps:
            found[runs, 0], found[runs, 1] = first, low
            found[runs, 2], found[runs, 3], found[runs, 4] = x, y, sweep
            runs += 1
            first = low
        elif kind == STRAIGHT:
            first = max(first + 1, low - least_steps)
        else:
            first += 1
    return found[:runs]


@njit(cache=True)
def _fit(
    points: FloatArray, first: int, last: int, tolerance_mm: float
) -> tuple[int, float, float, float]:
    """Whether an arc through both ends passes all points between, its centre and sweep.

    The centre lies on the ends' bisector. Every point far enough from the chord allows an
    interval of it (Drysdale, Rote & Sturm 2008, "Approximation of an open polygonal curve with a
    minimum number of circular arcs and biarcs", section 3); within what all of them allow, the
    algebraic least-squares centre is taken.
    """
    ax, ay = points[first]
    chord_x, chord_y = points[last, 0] - ax, points[last, 1] - ay
    chord = math.hypot(chord_x, chord_y)
    if chord <= tolerance_mm:
        return NO, 0.0, 0.0, 0.0
    ex, ey = chord_x / chord, chord_y / chord
    half = chord / 2.0
    low, high = -math.inf, math.inf
    weights, moments, furthest = 0.0, 0.0, 0.0
    for k in range(first + 1, last):
        x, y = points[k, 0] - ax, points[k, 1] - ay
        u, v = x * ex + y * ey - half, y * ex - x * ey
        power = u * u + v * v - half * half
        weights += v * v
        moments += power * v
        furthest = max(furthest, abs(v))
        if abs(v) > tolerance_mm:
            a = power - tolerance_mm * tolerance_mm
            square = v * v - tolerance_mm * tolerance_mm
            root = tolerance_mm * math.sqrt(a * a + 4.0 * half * half * square)
            low = max(low, (a * v - root) / (2.0 * square))
            high = min(high, (a * v + root) / (2.0 * square))
    if furthest <= tolerance_mm:
        kind = STRAIGHT if _is_ahead(points, first, last, ex, ey) else NO
        return kind, 0.0, 0.0, 0.0
    if low > high:
        return NO, 0.0, 0.0, 0.0
    offset = min(max(moments / (2.0 * weights), low), high)
    x, y = ax + half * ex - offset * ey, ay + half * ey + offset * ex
    sweep = _sweep_rad(points, first, last, x, y, tolerance_mm)
    return (NO if sweep == 0.0 else ROUND), x, y, sweep


@njit(cache=True)
def _is_ahead(points: FloatArray, first: int, last: int, ex: float, ey: float) -> bool:
    for k in range(first, last):
        step_x, step_y = points[k + 1, 0] - points[k, 0], points[k + 1, 1] - points[k, 1]
        if step_x * ex + step_y * ey < 0.0:
            return False
    return True


@njit(cache=True)
def _sweep_rad(
    points: FloatArray, first: int, last: int, x: float, y: float, tolerance_mm: float
) -> float:
    """Sweep of the arc if points lie on the circle, go on round it one way, and their chords keep
    to it; 0 if not."""
    radius = math.hypot(points[first, 0] - x, points[first, 1] - y)
    turned, way = 0.0, 0.0
    for k in range(first, last):
        px, py = points[k, 0] - x, points[k, 1] - y
        qx, qy = points[k + 1, 0] - x, points[k + 1, 1] - y
        if abs(math.hypot(qx, qy) - radius) > tolerance_mm:
            return 0.0
        half_step = math.hypot(qx - px, qy - py) / 2.0
        if half_step >= radius or radius - math.sqrt(radius**2 - half_step**2) > tolerance_mm:
            return 0.0
        turn = math.atan2(px * qy - py * qx, px * qx + py * qy)
        if way == 0.0:
            way = 1.0 if turn > 0.0 else -1.0
        if turn * way <= 0.0:
            return 0.0
        turned += turn
    return turned if abs(turned) <= MOST_TURN_RAD else 0.0


@njit(cache=True)
def after_longest_step(ring: FloatArray) -> int:
    """Number of the point behind the longest side of a closed line, shape (n, 2)."""
    count = len(ring)
    longest, behind = -1.0, 0
    for k in range(count):
        after = (k + 1) % count
        step = math.hypot(ring[after, 0] - ring[k, 0], ring[after, 1] - ring[k, 1])
        if step > longest:
            longest, behind = step, after
    return behind


@njit(cache=True)
def has_arcs(
    points: FloatArray,
    starts: npt.NDArray[np.int64],
    closed: npt.NDArray[np.bool_],
    tolerance_mm: float,
    least_steps: int,
) -> npt.NDArray[np.bool_]:
    """Which of many lines have a run that an arc stands for.

    ``points`` holds all lines one after the other, line k from ``starts[k]`` to
    ``starts[k + 1]``; a closed one does not repeat its first point and is begun behind its
    longest side.
    """
    count = len(closed)
    found = np.zeros(count, dtype=np.bool_)
    for k in range(count):
        line = points[starts[k] : starts[k + 1]]
        if len(line) <= least_steps:
            continue
        if closed[k]:
            begin = after_longest_step(line)
            line = np.concatenate((line[begin:], line[: begin + 1]))
        found[k] = len(arc_runs(line, tolerance_mm, least_steps)) > 0
    return found
