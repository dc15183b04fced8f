"""Where the burns of rows end at slanted edges."""

from __future__ import annotations

import numpy as np
from numba import njit

from kerfwright.engraving.rows_kernel import IntArray, crossings
from kerfwright.geometry.paths import FloatArray


@njit(cache=True, nogil=True)
def row_ends(
    edges: FloatArray, first_y: float, step: float, count: int, footprint: float
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Row, left and right end of every burn of level rows inside an area, row by row.

    ``edges`` has x0, y0, x1, y1 of every edge of closed rings, shape (n, 4); ``count`` rows lie
    ``step`` apart from ``first_y`` on. Round burn ends of width ``footprint`` follow each other
    along an edge at step / sin θ, if it makes the angle θ with the rows; two neighbours cross at
    √((footprint / 2)² − (step / (2 sin θ))²) from their centres (Pythagoras). A burn stops that
    far inside its edge, so that the outline is closed and spilled over as little as that allows,
    and right on an edge so slanted that the ends do not meet; what is too short for that keeps
    half a step of burn.
    """
    start, x, edge = crossings(edges, first_y, step, count)
    drawn_in = np.empty(len(x))
    for i in range(len(x)):
        x0, y0, x1, y1 = edges[edge[i]]
        slope = (x1 - x0) / (y1 - y0)
        longer = np.sqrt(1.0 + slope * slope)
        half = 0.5 * step * longer
        drawn_in[i] = longer * np.sqrt(max(0.25 * footprint * footprint - half * half, 0.0))
    return _paired(start, x, drawn_in, 0.5 * step)


@njit(cache=True)
def _paired(
    start: IntArray, x: FloatArray, drawn_in: FloatArray, least: float
) -> tuple[IntArray, FloatArray, FloatArray]:
    row = np.empty(len(x) // 2, dtype=np.int64)
    a = np.empty(len(row))
    b = np.empty(len(row))
    for k in range(len(start) - 1):
        on = start[k] + np.argsort(x[start[k] : start[k + 1]])
        for i in range(0, len(on), 2):
            s = (start[k] + i) // 2
            row[s] = k
            left, right = x[on[i]], x[on[i + 1]]
            room = right - left - min(right - left, least)
            insets = drawn_in[on[i]] + drawn_in[on[i + 1]]
            share = min(1.0, room / insets) if insets > 0.0 else 0.0
            a[s] = left + share * drawn_in[on[i]]
            b[s] = right - share * drawn_in[on[i + 1]]
    return row, a, b
