"""Run-ups that lean towards the next row, set straight where there is no room for them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.toolpath import MoveKind, Toolpath


def straightened(toolpath: Toolpath, points: npt.NDArray[np.bool_]) -> Toolpath:
    """Return the toolpath with run-ups along their rows where two leaning ones meet.

    ``points`` says which of the toolpath's points are looked at, shape (moves + 1,). A point
    where a row's way out and the next one's way in meet becomes two, each on its row, and a step
    from one to the other.
    """
    xy = toolpath.points
    kind = toolpath.moves["kind"]
    rows = kind == MoveKind.ROW
    off = kind == MoveKind.RUN_UP
    met = np.flatnonzero(off[1:-2] & off[2:-1] & rows[:-3] & rows[3:] & points[2:-2]) + 2
    if len(met) == 0:
        return toolpath
    out, into = _unit(xy[met - 1] - xy[met - 2]), _unit(xy[met + 2] - xy[met + 1])
    leave = xy[met - 1] + _along(xy[met] - xy[met - 1], out)
    arrive = xy[met + 1] + _along(xy[met] - xy[met + 1], into)
    moves = toolpath.moves.copy()
    moves["x_mm"][met - 1], moves["y_mm"][met - 1] = leave[:, 0], leave[:, 1]
    steps = moves[met - 1].copy()
    steps["x_mm"], steps["y_mm"] = arrive[:, 0], arrive[:, 1]
    return Toolpath(np.insert(moves, met, steps), toolpath.start_mm)


def _unit(steps: FloatArray) -> FloatArray:
    unit: FloatArray = steps / np.hypot(steps[:, 0], steps[:, 1])[:, None]
    return unit


def _along(steps: FloatArray, unit: FloatArray) -> FloatArray:
    along: FloatArray = (steps * unit).sum(axis=1)[:, None] * unit
    return along
