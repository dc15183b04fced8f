"""Burning moves that run straight on in one another, written as one."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.toolpath import Toolpath

STRAIGHT_MM = 1e-4
"""Furthest that a point left out may lie beside the move that replaces it."""


def merged(toolpath: Toolpath) -> Toolpath:
    """Return the same burns in as few moves as they need.

    Only neighbouring burns of one kind, speed, power and focus are merged, and none that begins
    with a pierce; the points left out lie in order along the new move and within
    :data:`STRAIGHT_MM` of it.
    """
    passable = _passable(toolpath)
    if not passable.any():
        return toolpath
    points = toolpath.points
    keep = np.ones(len(toolpath), dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], passable, [False]]).astype(np.int8)))
    for first, beyond in edges.reshape(-1, 2).tolist():
        keep[first:beyond] = _needed(points[first : beyond + 2])
    return Toolpath(toolpath.moves[keep], toolpath.start_mm)


def _passable(toolpath: Toolpath) -> npt.NDArray[np.bool_]:
    """Whether the end of each move may be left out as far as its two neighbours tell."""
    moves = toolpath.moves
    passable = np.zeros(len(moves), dtype=bool)
    if len(moves) < 2:
        return passable
    steps = np.diff(toolpath.points, axis=0)
    before, after = steps[:-1], steps[1:]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    onward = (before * after).sum(axis=1) > 0.0
    span = np.hypot(*(before + after).T)
    burning = toolpath.burning
    same = burning[:-1] & burning[1:]
    for name in ("kind", "speed_mm_s", "power", "z_mm", "dwell_s"):
        same &= moves[name][:-1] == moves[name][1:]
    same &= moves["dwell_s"][1:] == 0.0
    passable[:-1] = same & onward & (np.abs(cross) <= STRAIGHT_MM * span)
    return passable


def _needed(points: FloatArray) -> npt.NDArray[np.bool_]:
    """Which inner points of a nearly straight line must stay.

    The farthest one stays until none is too far (Ramer 1972; Douglas & Peucker 1973).
    """
    keep = np.zeros(len(points), dtype=bool)
    waiting = [(0, len(points) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        chord = points[last] - points[first]
        inner = points[first + 1 : last] - points[first]
        length = float(np.hypot(*chord))
        if length == 0.0:
            away = np.hypot(inner[:, 0], inner[:, 1])
        else:
            away = np.abs(chord[0] * inner[:, 1] - chord[1] * inner[:, 0]) / length
        farthest = int(np.argmax(away))
        backward = bool((np.diff(points[first : last + 1] @ chord) <= 0.0).any())
        if away[farthest] > STRAIGHT_MM or backward:
            middle = first + 1 + farthest
            keep[middle] = True
            waiting += [(first, middle), (middle, last)]
    return keep[1:-1]
