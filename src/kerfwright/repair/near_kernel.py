"""Compiled search for places that lie near one another."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.repair.lines_kernel import IntArray


@njit(cache=True)
def pair_members(order: IntArray, starts: IntArray, most: int) -> tuple[IntArray, IntArray]:
    """All pairs of members within each run of ``order`` of 2 to ``most`` members."""
    total = 0
    for k in range(len(starts) - 1):
        size = starts[k + 1] - starts[k]
        if 2 <= size <= most:
            total += size * (size - 1) // 2
    first = np.empty(total, dtype=np.int64)
    second = np.empty(total, dtype=np.int64)
    at = 0
    for k in range(len(starts) - 1):
        if not 2 <= starts[k + 1] - starts[k] <= most:
            continue
        for a in range(starts[k], starts[k + 1]):
            for b in range(a + 1, starts[k + 1]):
                first[at] = min(order[a], order[b])
                second[at] = max(order[a], order[b])
                at += 1
    return first, second


@njit(cache=True)
def pair_neighbours(
    near: IntArray, order: IntArray, starts: IntArray, most: int
) -> tuple[IntArray, IntArray]:
    """Pairs of members of neighbouring places, of each place the first ``most`` members.

    ``near`` has the neighbours of every place, shape (p, k), -1 for none.
    """
    first = np.empty(0, dtype=np.int64)
    second = np.empty(0, dtype=np.int64)
    for counting in (True, False):
        at = 0
        for a in range(len(near)):
            for b in near[a]:
                if b < 0 or (a > b and (near[b] == a).any()):
                    continue
                for m in range(starts[a], min(starts[a + 1], starts[a] + most)):
                    for n in range(starts[b], min(starts[b + 1], starts[b] + most)):
                        if not counting:
                            first[at] = min(order[m], order[n])
                            second[at] = max(order[m], order[n])
                        at += 1
        if counting:
            first = np.empty(at, dtype=np.int64)
            second = np.empty(at, dtype=np.int64)
    return first, second


@njit(cache=True)
def neighbours_in_grid(
    points: FloatArray, order: IntArray, cell_x: IntArray, cell_y: IntArray, reach_mm: float, k: int
) -> IntArray:
    """Up to ``k`` nearest other points within ``reach_mm`` of each, shape (p, k), -1 for none.

    The points are sorted into square cells at least ``reach_mm`` wide; ``order`` sorts them by
    row of cells and then by column. Cells that hold a point are found by walking three rows of
    cells abreast.
    """
    count = len(points)
    near = np.full((count, k), -1, dtype=np.int64)
    far = np.empty(k)
    low = np.zeros(3, dtype=np.int64)
    for position in range(count):
        i = order[position]
        cx, cy = cell_x[i], cell_y[i]
        found = 0
        for row in range(3):
            y = cy + row - 1
            at = low[row]
            while at < count and (
                cell_y[order[at]] < y or (cell_y[order[at]] == y and cell_x[order[at]] < cx - 1)
            ):
                at += 1
            low[row] = at
            while at < count and cell_y[order[at]] == y and cell_x[order[at]] <= cx + 1:
                j = order[at]
                at += 1
                if j == i:
                    continue
                distance = math.hypot(points[j, 0] - points[i, 0], points[j, 1] - points[i, 1])
                if distance > reach_mm or (found == k and distance >= far[k - 1]):
                    continue
                slot = min(found, k - 1)
                while slot > 0 and far[slot - 1] > distance:
                    far[slot] = far[slot - 1]
                    near[i, slot] = near[i, slot - 1]
                    slot -= 1
                far[slot] = distance
                near[i, slot] = j
                found = min(found + 1, k)
    return near
