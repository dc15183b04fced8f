"""Compiled comparison of lines with one another."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.repair.lines_kernel import BoolArray, IntArray


@njit(cache=True)
def mark_units(
    points: FloatArray, starts: IntArray, unit_starts: IntArray, least_mm: float
) -> FloatArray:
    """Centre, mean radius and lie of each unit's points, whichever way they are followed.

    The lie is the mean square of the points as complex numbers about their centre, over the
    radius: it tells apart lines that are turned about one centre, such as the spokes of a wheel.
    """
    out = np.empty((len(unit_starts) - 1, 5))
    for unit in range(len(unit_starts) - 1):
        first, stop = starts[unit_starts[unit]], starts[unit_starts[unit + 1]]
        count = stop - first
        x = y = 0.0
        for i in range(first, stop):
            x += points[i, 0]
            y += points[i, 1]
        x /= count
        y /= count
        xx = yy = xy = 0.0
        for i in range(first, stop):
            dx, dy = points[i, 0] - x, points[i, 1] - y
            xx += dx * dx
            yy += dy * dy
            xy += dx * dy
        radius = math.sqrt((xx + yy) / count)
        scale = max(radius, least_mm)
        out[unit, 0] = x
        out[unit, 1] = y
        out[unit, 2] = radius
        out[unit, 3] = (xx - yy) / count / scale
        out[unit, 4] = 2.0 * xy / count / scale
    return out


@njit(cache=True)
def mark_outlines(points: FloatArray, starts: IntArray, numbers: IntArray) -> FloatArray:
    """Centre along the line and length of closed lines, wherever their points lie on it."""
    out = np.empty((len(numbers), 3))
    for k in range(len(numbers)):
        first, stop = starts[numbers[k]], starts[numbers[k] + 1]
        x = y = total = 0.0
        before = stop - 1
        for i in range(first, stop):
            dx, dy = points[i, 0] - points[before, 0], points[i, 1] - points[before, 1]
            step = math.hypot(dx, dy)
            x += step * (points[i, 0] + points[before, 0]) / 2.0
            y += step * (points[i, 1] + points[before, 1]) / 2.0
            total += step
            before = i
        out[k, 0] = x / total if total > 0.0 else points[first, 0]
        out[k, 1] = y / total if total > 0.0 else points[first, 1]
        out[k, 2] = total
    return out


@njit(cache=True)
def pair_along(marks: FloatArray, order: IntArray, along: FloatArray, reach_mm: float) -> IntArray:
    """Pairs whose marks differ by at most ``reach_mm`` each, by their earlier and later number."""
    pairs = np.empty((len(order), 2), dtype=np.int64)
    count = 0
    reach_along = reach_mm * math.sqrt(float(marks.shape[1]))
    for a in range(len(order)):
        b = a + 1
        while b < len(order) and along[b] - along[a] <= reach_along:
            alike = True
            for m in range(marks.shape[1]):
                if abs(marks[order[a], m] - marks[order[b], m]) > reach_mm:
                    alike = False
                    break
            if alike:
                if count == len(pairs):
                    pairs = np.concatenate((pairs, np.empty_like(pairs)))
                pairs[count, 0] = min(order[a], order[b])
                pairs[count, 1] = max(order[a], order[b])
                count += 1
            b += 1
    return pairs[:count][np.argsort(pairs[:count, 0] * len(order) + pairs[:count, 1])]


@njit(cache=True)
def find_repeats(
    units: tuple[FloatArray, IntArray, BoolArray, IntArray],
    marks: FloatArray,
    order: IntArray,
    along: FloatArray,
    reach_mm: float,
    same_mm: float,
    same_way: bool,
) -> IntArray:
    """For every unit of lines the earlier one that it repeats, -1 for none.

    ``units`` has the points and starts of all lines, whether each is closed, and the first line of
    every unit; ``order`` sorts the units by the value ``along``, a combination of their marks.
    """
    count = len(order)
    of = np.full(count, -1, dtype=np.int64)
    position = np.empty(count, dtype=np.int64)
    for k in range(count):
        position[order[k]] = k
    for unit in range(count):
        if of[unit] >= 0:
            continue
        for step in (-1, 1):
            k = position[unit] + step
            while 0 <= k < count and abs(along[k] - along[position[unit]]) <= reach_mm:
                other = order[k]
                k += step
                if other <= unit or of[other] >= 0:
                    continue
                alike = True
                for m in range(marks.shape[1]):
                    if abs(marks[other, m] - marks[unit, m]) > reach_mm:
                        alike = False
                        break
                if alike and _same_units(units, unit, other, same_mm, same_way):
                    of[other] = unit
    return of


@njit(cache=True)
def _same_units(
    units: tuple[FloatArray, IntArray, BoolArray, IntArray],
    one: int,
    other: int,
    same_mm: float,
    same_way: bool,
) -> bool:
    points, starts, closed, unit_starts = units
    count = unit_starts[one + 1] - unit_starts[one]
    if unit_starts[other + 1] - unit_starts[other] != count:
        return False
    all_ahead = all_back = True
    for k in range(count):
        a, b = unit_starts[one] + k, unit_starts[other] + k
        size = starts[a + 1] - starts[a]
        if starts[b + 1] - starts[b] != size or closed[a] != closed[b]:
            return False
        ahead = _same_points(points, starts[a], starts[b], size, 1, closed[a], same_mm)
        back = _same_points(points, starts[a], starts[b], size, -1, closed[a], same_mm)
        if not (ahead or back):
            return False
        all_ahead = all_ahead and ahead
        all_back = all_back and back
    return all_ahead or all_back or not same_way


@njit(cache=True)
def _same_points(
    points: FloatArray, a: int, b: int, size: int, step: int, closed: bool, same_mm: float
) -> bool:
    """Whether the points from ``a`` are those from ``b``, followed with ``step``."""
    shifts = size if closed else 1
    for shift in range(shifts):
        same = True
        for i in range(size):
            j = (shift + i) % size if step > 0 else (size - 1 - shift - i) % size
            dx = points[a + i, 0] - points[b + j, 0]
            dy = points[a + i, 1] - points[b + j, 1]
            if math.hypot(dx, dy) > same_mm:
                same = False
                break
        if same:
            return True
    return False


@njit(cache=True)
def strays(
    points: FloatArray, of_points: FloatArray, ring: FloatArray, of_ring: FloatArray, same_mm: float
) -> bool:
    """Whether a point lies further than ``same_mm`` from a closed line.

    ``of_points`` and ``of_ring`` have centre and radius of the arc that each step stands for, a
    radius of 0 for a straight one. A point of an arc is measured from the other line's arc.
    """
    size = len(ring)
    near = 0
    for i in range(len(points)):
        x, y = points[i, 0], points[i, 1]
        round_here = of_points[i, 2] > 0.0 or of_points[i - 1, 2] > 0.0
        met = False
        # the next point is mostly on the step where the last one was, or a few steps on
        for k in range(size):
            j = (near + (k + 1) // 2 if k % 2 else near - k // 2) % size
            nxt = j + 1 if j + 1 < size else 0
            ax, ay = ring[j, 0], ring[j, 1]
            bx, by = ring[nxt, 0] - ax, ring[nxt, 1] - ay
            long2 = bx * bx + by * by
            t = 0.0
            if long2 > 0.0:
                t = min(max(((x - ax) * bx + (y - ay) * by) / long2, 0.0), 1.0)
            gap = math.hypot(x - ax - t * bx, y - ay - t * by)
            radius = of_ring[j, 2]
            if round_here and radius > 0.0 and 0.0 < t < 1.0:
                depth = radius - math.sqrt(max(radius * radius - long2 / 4.0, 0.0))
                if gap <= depth + same_mm:
                    gap = abs(math.hypot(x - of_ring[j, 0], y - of_ring[j, 1]) - radius)
            if gap <= same_mm:
                met = True
                near = j
                break
        if not met:
            return True
    return False
