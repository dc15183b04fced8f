"""What loops take where they lie: the grid's view of an area burned in loops."""

from __future__ import annotations

import numpy as np

from kerfwright.engraving.cell_grid import Grid
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import move_times_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath

SAMPLES_PER_BOX = 1
"""Samples on a loop's move for every box that it may cross; shorter moves have one."""


def loop_rates_of(grid: Grid, loops: Toolpath, machine: Machine) -> FloatArray:
    """Seconds for a mm of burn in every box of a grid, were all of its area burned in loops.

    A box that no loop's move was sampled in has the mean of its piece, or of all.
    """
    seconds, length = move_times_s(loops, machine), loops.lengths_mm
    looped = np.flatnonzero((loops.moves["kind"] == MoveKind.LOOP) & (length > 0.0))
    count = len(grid.held_mm2)
    if len(looped) == 0:
        return np.full(count, np.inf)
    samples = np.ceil(SAMPLES_PER_BOX * length[looped] / grid.pitch_mm).astype(np.int64)
    move = np.repeat(looped, samples)
    number = np.arange(len(move)) - np.repeat(np.cumsum(samples) - samples, samples)
    share = (number + 0.5) / np.repeat(samples, samples)
    points = loops.points
    at = points[move] + share[:, None] * (points[move + 1] - points[move])
    box = boxes_at(grid, rotation(-grid.frame_deg).apply(at))
    met = box >= 0
    each = 1.0 / np.repeat(samples, samples)[met]
    taken = np.bincount(box[met], (seconds[move][met] * each), minlength=count)
    burned = np.bincount(box[met], (length[move][met] * each), minlength=count)
    pieces = int(grid.piece.max()) + 1
    of_piece = np.bincount(grid.piece, taken, pieces), np.bincount(grid.piece, burned, pieces)
    mean = float(taken.sum() / max(burned.sum(), 1e-12))
    rate = np.divide(of_piece[0], of_piece[1], out=np.full(pieces, mean), where=of_piece[1] > 0.0)
    rates: FloatArray = np.divide(taken, burned, out=rate[grid.piece], where=burned > 0.0)
    return rates


def boxes_at(grid: Grid, points: FloatArray) -> np.ndarray:
    """Box of the grid that every point lies in, -1 for none."""
    number = np.full((len(grid.y) - 1, len(grid.x) - 1), -1, dtype=np.int64)
    number[grid.row, grid.column] = np.arange(len(grid.row))
    column = np.searchsorted(grid.x, points[:, 0], side="right") - 1
    row = np.searchsorted(grid.y, points[:, 1], side="right") - 1
    inside = (column >= 0) & (row >= 0) & (column < number.shape[1]) & (row < number.shape[0])
    return np.where(inside, number[row * inside, column * inside], -1)
