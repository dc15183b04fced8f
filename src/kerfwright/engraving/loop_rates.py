"""What loops take where they lie: the grid's view of an area burned in loops."""

from __future__ import annotations

import numpy as np

from kerfwright.engraving.cell_grid import Grid
from kerfwright.engraving.grid_kernel import spread_over_boxes
from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.toolpath import MoveKind, Toolpath


def loop_rates_of(grid: Grid, loops: Toolpath, seconds: FloatArray) -> FloatArray:
    """Seconds for a mm of burn in every box of a grid, were all of its area burned in loops.

    ``seconds`` are those of every move of ``loops``. A box that no loop's move was sampled in has
    the mean of its piece, or of all.
    """
    length = loops.lengths_mm
    looped = np.flatnonzero((loops.moves["kind"] == MoveKind.LOOP) & (length > 0.0))
    count = len(grid.held_mm2)
    if len(looped) == 0:
        return np.full(count, np.inf)
    points = rotation(-grid.frame_deg).apply(loops.points)
    taken, burned = spread_over_boxes(
        points, looped, seconds, length, grid.x, grid.y, _numbers(grid), grid.pitch_mm
    )
    taken, burned = taken[:count], burned[:count]
    pieces = int(grid.piece.max()) + 1
    of_piece = np.bincount(grid.piece, taken, pieces), np.bincount(grid.piece, burned, pieces)
    mean = float(taken.sum() / max(burned.sum(), 1e-12))
    rate = np.divide(of_piece[0], of_piece[1], out=np.full(pieces, mean), where=of_piece[1] > 0.0)
    rates: FloatArray = np.divide(taken, burned, out=rate[grid.piece], where=burned > 0.0)
    return rates


def boxes_at(grid: Grid, points: FloatArray) -> np.ndarray:
    """Box of the grid that every point lies in, -1 for none."""
    number = _numbers(grid)
    column = np.searchsorted(grid.x, points[:, 0], side="right") - 1
    row = np.searchsorted(grid.y, points[:, 1], side="right") - 1
    inside = (column >= 0) & (row >= 0) & (column < number.shape[1]) & (row < number.shape[0])
    return np.where(inside, number[row * inside, column * inside], -1)


def _numbers(grid: Grid) -> IntArray:
    """Number of the box in every row and column, -1 where it is empty."""
    number = np.full((len(grid.y) - 1, len(grid.x) - 1), -1, dtype=np.int64)
    number[grid.row, grid.column] = np.arange(len(grid.row))
    return number
