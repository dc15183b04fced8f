"""Compiled loops over a picture's cells: what shade each is, which lie inside, runs along rows."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]


@njit(cache=True)
def sample_cells(
    dots: npt.NDArray[np.float32], to_dots: FloatArray, frame: FloatArray, shape: IntArray, n: int
) -> FloatArray:
    """Mean of a picture over every cell of a grid, shape (rows, columns).

    Args:
        dots: value of every dot, shape (dot rows, dot columns).
        to_dots: a, b, c, d, e, f of the affine transform from mm of the grid's frame to dots,
            where dot (0, 0) has its middle at (0.5, 0.5).
        frame: x and y of the grid's corner, width and height of a cell, in mm.
        shape: rows and columns of the grid.
        n: samples along each side of a cell.

    """
    high, wide = dots.shape
    rows, columns = shape[0], shape[1]
    out = np.empty((rows, columns))
    a, b, c, d, e, f = to_dots
    for i in range(rows):
        for j in range(columns):
            total = 0.0
            for p in range(n):
                y = frame[1] + (i + (p + 0.5) / n) * frame[3]
                for q in range(n):
                    x = frame[0] + (j + (q + 0.5) / n) * frame[2]
                    u = min(max(a * x + c * y + e - 0.5, 0.0), wide - 1.0)
                    v = min(max(b * x + d * y + f - 0.5, 0.0), high - 1.0)
                    left, top = int(u), int(v)
                    right, low = min(left + 1, wide - 1), min(top + 1, high - 1)
                    su, sv = u - left, v - top
                    above = dots[top, left] * (1.0 - su) + dots[top, right] * su
                    below = dots[low, left] * (1.0 - su) + dots[low, right] * su
                    total += above * (1.0 - sv) + below * sv
            out[i, j] = total / (n * n)
    return out


@njit(cache=True)
def cells_met(
    start: IntArray, x: FloatArray, x0: float, step: float, columns: int, short: float
) -> BoolArray:
    """Cells that the stretches ``x[start[i]:start[i + 1]]`` of each row i reach into."""
    rows = len(start) - 1
    met = np.zeros((rows, columns), dtype=np.bool_)
    for i in range(rows):
        for s in range(start[i], start[i + 1], 2):
            first = max(math.floor((x[s] + short - x0) / step), 0)
            last = min(math.floor((x[s + 1] - short - x0) / step), columns - 1)
            for j in range(first, last + 1):
                met[i, j] = True
    return met


@njit(cache=True)
def runs_of(
    level: IntArray, start: IntArray, x: FloatArray, x0: float, step: float, short: float
) -> tuple[IntArray, FloatArray, FloatArray, IntArray]:
    """Row, left and right end and level of every run of cells of one level above 0.

    Runs are cut off at the ends of the stretches ``x[start[i]:start[i + 1]]`` of their row i.
    """
    rows, columns = level.shape
    room = 0
    for i in range(rows):
        stretches = (start[i + 1] - start[i]) // 2
        changes = 1
        for j in range(1, columns):
            changes += level[i, j] != level[i, j - 1]
        room += changes + 2 * stretches
    row = np.empty(room, dtype=np.int64)
    left = np.empty(room)
    right = np.empty(room)
    of = np.empty(room, dtype=np.int64)
    found = 0
    for i in range(rows):
        for s in range(start[i], start[i + 1], 2):
            low, high = x[s], x[s + 1]
            first = max(math.floor((low + short - x0) / step), 0)
            last = min(math.floor((high - short - x0) / step), columns - 1)
            j = first
            while j <= last:
                here = level[i, j]
                begin = j
                while j <= last and level[i, j] == here:
                    j += 1
                if here == 0:
                    continue
                # the outermost cells stretch to the end of the stretch they lie in
                a = low if begin == first else x0 + begin * step
                b = high if j > last else x0 + j * step
                if b - a > short:
                    row[found] = i
                    left[found] = a
                    right[found] = b
                    of[found] = here
                    found += 1
    return row[:found], left[:found], right[:found], of[:found]
