"""The tour to begin with: always the stroke that is reached soonest.

The nearest neighbour rule with a grid of buckets after Bentley (*ORSA Journal on Computing* 4(4),
1992): cells round the beam are searched outwards until nothing further out can be reached sooner.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.sequence.tour import IntArray, Precedence, Tour, Travel, Ways, travel_s


class _Grid(NamedTuple):
    """Options by the cell of their entry: ``options[first[c] : first[c] + filled[c]]``."""

    low: FloatArray
    cell_mm: float
    columns: int
    rows: int
    first: IntArray
    filled: IntArray
    options: IntArray


class _Strokes(NamedTuple):
    """The stroke of every option; forerunners that each still waits for; its position, or -1."""

    of_option: IntArray
    waits: IntArray
    position: IntArray


@njit(cache=True, error_model="numpy")
def construct(ways: Ways, precedence: Precedence, travel: Travel) -> Tour:
    """Take the cheapest next stroke whose forerunners are done.

    The order is shorter than the number of strokes if the precedence has a cycle.
    """
    n = len(ways.first) - 1
    stroke_of = np.empty(len(ways.ends), dtype=np.int64)
    waits = np.empty(n, dtype=np.int64)
    ready = 0
    for s in range(n):
        stroke_of[ways.first[s] : ways.first[s + 1]] = s
        waits[s] = precedence.before_first[s + 1] - precedence.before_first[s]
        ready += waits[s] == 0
    position = np.full(n, -1, dtype=np.int64)
    order = np.empty(n, dtype=np.int64)
    choice = np.zeros(n, dtype=np.int64)
    grid = _grid(ways)
    strokes = _Strokes(stroke_of, waits, position)
    x, y = travel.start
    done = 0
    while ready > 0:
        option = _soonest(x, y, grid, ways, strokes, travel.axes)
        s = stroke_of[option]
        order[done], position[s], choice[s] = s, done, option
        done += 1
        ready -= 1
        x, y = ways.ends[option, 2], ways.ends[option, 3]
        for k in range(precedence.after_first[s], precedence.after_first[s + 1]):
            waits[precedence.after[k]] -= 1
            ready += waits[precedence.after[k]] == 0
    return Tour(order[:done], position, choice)


@njit(cache=True, error_model="numpy")
def _grid(ways: Ways) -> _Grid:
    """About as many cells as strokes over everything there is to enter."""
    n = max(len(ways.first) - 1, 1)
    low, high = np.zeros(2), np.zeros(2)
    for axis in range(2):
        low[axis] = ways.ends[:, axis].min()
        high[axis] = ways.ends[:, axis].max()
    wide, tall = high[0] - low[0], high[1] - low[1]
    cell_mm = max(math.sqrt(wide * tall / n), max(wide, tall) / n, 1e-3)
    columns, rows = int(wide / cell_mm) + 1, int(tall / cell_mm) + 1
    cell_of = np.empty(len(ways.ends), dtype=np.int64)
    count = np.zeros(columns * rows, dtype=np.int64)
    for option in range(len(ways.ends)):
        column = int((ways.ends[option, 0] - low[0]) / cell_mm)
        row = int((ways.ends[option, 1] - low[1]) / cell_mm)
        cell_of[option] = row * columns + column
        count[cell_of[option]] += 1
    first = np.cumsum(count) - count
    options = np.empty(len(ways.ends), dtype=np.int64)
    count[:] = 0
    for option in range(len(ways.ends)):
        cell = cell_of[option]
        options[first[cell] + count[cell]] = option
        count[cell] += 1
    return _Grid(low, cell_mm, columns, rows, first, count, options)


@njit(cache=True, error_model="numpy")
def _soonest(
    x: float,
    y: float,
    grid: _Grid,
    ways: Ways,
    strokes: _Strokes,
    axes: FloatArray,
) -> int:
    """Return the option, of a stroke that may be burned now, whose entry is reached soonest."""
    column = min(max(int((x - grid.low[0]) / grid.cell_mm), 0), grid.columns - 1)
    row = min(max(int((y - grid.low[1]) / grid.cell_mm), 0), grid.rows - 1)
    best_s, best = math.inf, -1
    for away in range(max(grid.columns, grid.rows)):
        clear_mm = (away - 1) * grid.cell_mm
        if away > 0 and best_s <= min(
            travel_s(0.0, 0.0, clear_mm, 0.0, axes), travel_s(0.0, 0.0, 0.0, clear_mm, axes)
        ):
            break
        for r in range(max(row - away, 0), min(row + away, grid.rows - 1) + 1):
            # inner rows of the square ring have a cell at either end only
            step = 1 if abs(r - row) == away else max(2 * away, 1)
            for c in range(column - away, column + away + 1, step):
                if 0 <= c < grid.columns:
                    cell = r * grid.columns + c
                    here_s, option = _in_cell(x, y, cell, grid, ways, strokes, axes)
                    if here_s < best_s or (here_s == best_s and option < best):
                        best_s, best = here_s, option
    return best


@njit(cache=True, error_model="numpy")
def _in_cell(
    x: float,
    y: float,
    cell: int,
    grid: _Grid,
    ways: Ways,
    strokes: _Strokes,
    axes: FloatArray,
) -> tuple[float, int]:
    """Seconds and option of the best entry in one cell; what is done is thrown out for good."""
    best_s, best = math.inf, -1
    k = grid.first[cell]
    while k < grid.first[cell] + grid.filled[cell]:
        option = grid.options[k]
        s = strokes.of_option[option]
        if strokes.position[s] >= 0:
            grid.filled[cell] -= 1
            grid.options[k] = grid.options[grid.first[cell] + grid.filled[cell]]
            continue
        k += 1
        if strokes.waits[s] > 0:
            continue
        cost = travel_s(x, y, ways.ends[option, 0], ways.ends[option, 1], axes)
        if cost < best_s or (cost == best_s and option < best):
            best_s, best = cost, option
    return best_s, best
