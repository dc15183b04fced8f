"""A grid over a board that tells where a part cannot lie, so that few places are tried exactly.

Each cell holds how large a circle about any of its points could be without coming too close to
anything: an upper bound from signed distances, which change by no more than the way between two
points. A part whose inscribed circles do not fit there does not fit either.

All lengths in mm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.kernel import Laid, Moved, _inside, _to_segment

CELLS = 120_000
"""Cells of a grid, about."""

REACH = 14.0
"""Distances are reckoned to so many cells around an outline; circles have no say beyond."""


class Clearance(NamedTuple):
    """Upper bounds of radii, shape (rows, columns); cells of side ``step`` from (x, y) on."""

    radius: FloatArray
    x: float
    y: float
    step: float


def clearance_of(room: tuple[float, float, float, float]) -> Clearance:
    """Return a grid over an empty board, a cell wider on every side."""
    width, height = max(room[2] - room[0], 1e-3), max(room[3] - room[1], 1e-3)
    step = math.sqrt(width * height / CELLS)
    step = max(step, width / CELLS, height / CELLS)
    rows, columns = math.ceil(height / step) + 3, math.ceil(width / step) + 3
    return Clearance(np.full((rows, columns), np.inf), room[0] - step, room[1] - step, step)


@njit(cache=True)
def add_outline(clear: Clearance, laid: Laid, i: int) -> None:
    """Lower the bounds around outline ``i``."""
    step, reach = clear.step, REACH * clear.step
    slack = step * math.sqrt(0.5) - laid.gap[i]
    rows, columns = clear.radius.shape
    first_row = max(int((laid.box[i, 1] - reach - clear.y) / step), 0)
    last_row = min(int((laid.box[i, 3] + reach - clear.y) / step) + 1, rows)
    first_column = max(int((laid.box[i, 0] - reach - clear.x) / step), 0)
    last_column = min(int((laid.box[i, 2] + reach - clear.x) / step) + 1, columns)
    first, last = laid.start[i], laid.start[i + 1]
    edge = laid.edge
    for row in range(first_row, last_row):
        y = clear.y + (row + 0.5) * step
        for column in range(first_column, last_column):
            x = clear.x + (column + 0.5) * step
            least = math.inf
            for e in range(first, last):
                least = min(
                    least, _to_segment(x, y, edge[e, 0], edge[e, 1], edge[e, 2], edge[e, 3])
                )
            distance = math.sqrt(least)
            if _inside(x, y, edge, first, last):
                distance = -distance
            clear.radius[row, column] = min(clear.radius[row, column], distance + slack)


@njit(cache=True)
def next_hopeful(
    clear: Clearance, moved: Moved, x: float, y: float, y_high: float, wanted: bool
) -> float:
    """Go up from y by cells while there is (or is not) hope for the part, as ``wanted``.

    Returns the first height, perhaps beyond ``y_high``, from which on it is the other way.
    """
    step, circle = clear.step, moved.circle
    rows, columns = clear.radius.shape
    while y <= y_high:
        hope = True
        for c in range(len(circle)):
            row = int((y + circle[c, 1] - clear.y) / step)
            column = int((x + circle[c, 0] - clear.x) / step)
            row, column = min(max(row, 0), rows - 2), min(max(column, 0), columns - 1)
            # from y to y + step the middle crosses two cells
            most = max(clear.radius[row, column], clear.radius[row + 1, column])
            if most < circle[c, 2]:
                hope = False
                break
        if hope != wanted:
            return y
        y += step
    return y
