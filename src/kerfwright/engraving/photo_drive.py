"""Burns of many powers along rows, driven to and fro."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from kerfwright.engraving.burn import Burn, RowMotion
from kerfwright.engraving.photo_cells import Cells, IntArray, Runs
from kerfwright.engraving.rows_kernel import drive_rows
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.kernel import LENGTH_ZERO_MM
from kerfwright.motion.timing import travel_speed_mm_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MOVE_DTYPE, MoveArray, MoveKind, Toolpath, join

BoolArray = npt.NDArray[np.bool_]


def driven(cells: Cells, runs: Runs, burn: Burn, motion: RowMotion, machine: Machine) -> Toolpath:
    """Drive the rows that have something to burn from the lowest to the highest, to and fro.

    Bare stretches are crossed at burning speed, or jumped by travelling where that is faster.
    """
    if len(runs.row) == 0:
        return Toolpath(join([]))
    own, first = np.unique(runs.row, return_index=True)
    start = np.append(first, len(runs.row)).astype(np.int64)
    points, kind = drive_rows(
        cells.y[own],
        start,
        np.column_stack([runs.a, runs.b]),
        _jumps(runs, motion),
        np.arange(len(own)),
        True,
        motion.numbers,
    )
    powers = np.zeros(len(kind))
    rowed = kind == MoveKind.ROW
    rightwards = np.diff(points[:, 0])[rowed] > 0.0
    powers[rowed] = runs.power[_in_order(start, rightwards)]
    placed = rotation(cells.angle_deg).apply(points)
    moves = _moves(placed[1:], kind, powers, burn, travel_speed_mm_s(machine))
    # two powers side by side have no gap between them
    apart = np.abs(np.diff(points, axis=0)).max(axis=1) > LENGTH_ZERO_MM
    return Toolpath(moves[apart], (float(placed[0, 0]), float(placed[0, 1])))


def _jumps(runs: Runs, motion: RowMotion) -> BoolArray:
    """Whether the gap to the right of each run is travelled instead of crossed."""
    jump = np.zeros(len(runs.row), dtype=bool)
    before = np.flatnonzero(runs.row[1:] == runs.row[:-1])
    wide = runs.a[before + 1] - runs.b[before]
    burned = runs.b - runs.a
    jump[before] = motion.jump_s(wide) < motion.cross_s(wide, burned[before], burned[before + 1])
    return jump


def _in_order(start: IntArray, rightwards: BoolArray) -> IntArray:
    """Run that each burn in order of driving is: rows driven leftwards have theirs reversed."""
    index = np.arange(start[-1])
    row = np.repeat(np.arange(len(start) - 1), np.diff(start))
    backward = start[row] + start[row + 1] - 1 - index
    return np.where(rightwards, index, backward)


def _moves(
    points: FloatArray, kind: IntArray, powers: FloatArray, burn: Burn, travel_mm_s: float
) -> MoveArray:
    moves = np.zeros(len(points), dtype=MOVE_DTYPE)
    moves["x_mm"], moves["y_mm"] = points[:, 0], points[:, 1]
    moves["kind"] = kind
    travels = kind == MoveKind.TRAVEL
    moves["speed_mm_s"] = np.where(travels, travel_mm_s, burn.speed_mm_s)
    moves["power"] = powers
    moves["source"] = np.where(travels, -1, burn.source)
    return moves
