"""How much of the beam's energy comes together in a small area in a short time (compiled)."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]

ACROSS = 4
"""Cells along a side of the window: it slides by a quarter of its side."""

CHUNKS = 40
"""Energy that falls into one cell is told once in this part of the window's time."""


@njit(cache=True)
def cell_energies(
    stretches: FloatArray, low: FloatArray, cell_mm: float, window_s: float
) -> tuple[FloatArray, IntArray]:
    """Take burning stretches apart into what falls into each cell, in the order of time.

    Within a stretch power goes evenly over the time and speed too, so that pieces of equal time
    hold what their own middles say. Pieces that follow each other in one cell are put together.

    Args:
        stretches: x and y at both ends, begin, seconds, start and end speed, start and end power,
            shape (n, 10); mm, s, mm/s, W.
        low: left and lower edge of the cells, in mm.
        cell_mm: side of a cell.
        window_s: time of the window.

    Returns:
        The last moment and the energy of each portion, shape (m, 2), and its cell's column and
        row, shape (m, 2).
    """
    n = len(stretches)
    pieces = np.empty(n, dtype=np.int64)
    for i in range(n):
        length = math.hypot(stretches[i, 2] - stretches[i, 0], stretches[i, 3] - stretches[i, 1])
        by_length = math.ceil(2.0 * length / cell_mm)
        by_time = math.ceil(CHUNKS * stretches[i, 5] / window_s)
        pieces[i] = max(1, by_length, by_time)
    portions = np.empty((pieces.sum(), 2))
    cells = np.empty((len(portions), 2), dtype=np.int64)
    count = 0
    begun = 0.0
    for i in range(n):
        x0, y0, x1, y1, begin, seconds, v0, v1, w0, w1 = stretches[i]
        whole = 0.5 * (v0 + v1) * seconds
        for k in range(pieces[i]):
            share = (k + 0.5) / pieces[i]
            t = share * seconds
            gone = (v0 * t + 0.5 * (v1 - v0) * share * t) / whole if whole > 0.0 else 0.0
            column = int((x0 + gone * (x1 - x0) - low[0]) / cell_mm)
            row = int((y0 + gone * (y1 - y0) - low[1]) / cell_mm)
            energy = (w0 + share * (w1 - w0)) * seconds / pieces[i]
            ends = begin + (k + 1.0) / pieces[i] * seconds
            same = count > 0 and cells[count - 1, 0] == column and cells[count - 1, 1] == row
            if same and ends - begun < window_s / CHUNKS:
                portions[count - 1, 0] = ends
                portions[count - 1, 1] += energy
                continue
            begun = begin + k / pieces[i] * seconds
            portions[count] = ends, energy
            cells[count] = column, row
            count += 1
    return portions[:count].copy(), cells[:count].copy()


@njit(cache=True)
def window_peaks(
    portions: FloatArray, cells: IntArray, columns: int, rows: int, window_s: float
) -> tuple[FloatArray, FloatArray]:
    """Most energy in each window within ``window_s``, and when it was reached.

    Window (r, c) has the cells of rows r - 3 to r and of columns c - 3 to c; arrays have shape
    (rows + 3, columns + 3).
    """
    now = np.zeros((rows + ACROSS - 1, columns + ACROSS - 1))
    peak = np.zeros_like(now)
    reached_s = np.zeros_like(now)
    oldest = 0
    for i in range(len(portions)):
        at = portions[i, 0]
        while portions[oldest, 0] <= at - window_s:
            _add(now, cells[oldest], -portions[oldest, 1])
            oldest += 1
        _add(now, cells[i], portions[i, 1])
        column, row = cells[i]
        for r in range(row, row + ACROSS):
            for c in range(column, column + ACROSS):
                if now[r, c] > peak[r, c]:
                    peak[r, c] = now[r, c]
                    reached_s[r, c] = at
    return peak, reached_s


@njit(cache=True)
def _add(now: FloatArray, cell: IntArray, energy: float) -> None:
    for r in range(cell[1], cell[1] + ACROSS):
        for c in range(cell[0], cell[0] + ACROSS):
            now[r, c] += energy
