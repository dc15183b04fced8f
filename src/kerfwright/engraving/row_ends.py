"""Where the burns of rows end at slanted edges."""

from __future__ import annotations

import numpy as np
from numba import njit

from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.paths import FloatArray


@njit(cache=True)
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
    half a step of burn. An edge owns its lower end and not
    its upper one, so that a row through a vertex is counted once.
    """
    n = len(edges)
    low = np.empty(n, dtype=np.int64)
    high = np.empty(n, dtype=np.int64)
    start = np.zeros(count + 1, dtype=np.int64)
    for e in range(n):
        y0 = min(edges[e, 1], edges[e, 3])
        y1 = max(edges[e, 1], edges[e, 3])
        low[e] = max(0, int(np.ceil((y0 - first_y) / step)))
        high[e] = min(count, int(np.ceil((y1 - first_y) / step)))
        for k in range(low[e], high[e]):
            start[k + 1] += 1
    for k in range(count):
        start[k + 1] += start[k]
    x = np.empty(start[count])
    drawn_in = np.empty(start[count])
    fill = start[:-1].copy()
    for e in range(n):
        if low[e] >= high[e]:
            continue
        slope = (edges[e, 2] - edges[e, 0]) / (edges[e, 3] - edges[e, 1])
        longer = np.sqrt(1.0 + slope * slope)
        half = 0.5 * step * longer
        inset = longer * np.sqrt(max(0.25 * footprint * footprint - half * half, 0.0))
        for k in range(low[e], high[e]):
            x[fill[k]] = edges[e, 0] + slope * (first_y + k * step - edges[e, 1])
            drawn_in[fill[k]] = inset
            fill[k] += 1
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
