"""Burns of rows moved against their direction, so that rows of both directions meet.

Beam and electronics answer late, so a burn lies displaced along its direction of travel, and
rows burned to and fro lie displaced against each other by twice as much. The distance between
the two is measured at a few speeds; each row is burned half of it early (common practice, no
source).
"""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath


def reversal_shift_at(speed_mm_s: FloatArray, machine: Machine) -> FloatArray:
    """Distance in mm between the ends of rows burned to and fro, at some speeds.

    Between the measured speeds it is interpolated; beyond them the nearest one's holds, since
    nothing is known there.
    """
    table = np.array(sorted(machine.reversal_shift_mm))
    shift: FloatArray = np.interp(speed_mm_s, table[:, 0], table[:, 1])
    return shift


def burned_early(toolpath: Toolpath, machine: Machine) -> Toolpath:
    """Return the toolpath with its rows moved back by half the machine's reversal shift."""
    return _moved(toolpath, machine, -0.5)


def as_burned(toolpath: Toolpath, machine: Machine) -> Toolpath:
    """Return the toolpath with its rows where their burns come to lie on the material."""
    return _moved(toolpath, machine, 0.5)


def _moved(toolpath: Toolpath, machine: Machine, share: float) -> Toolpath:
    """Move rows along their direction by a share of the shift, and run-ups with them.

    Where one run-up lies between two rows that come back, its far end goes outwards, so that
    neither way is too short.
    """
    kind = toolpath.moves["kind"]
    rows = kind == MoveKind.ROW
    if not machine.reversal_shift_mm or not rows.any():
        return toolpath
    points = toolpath.points
    steps = np.diff(points, axis=0)
    length = np.hypot(steps[:, 0], steps[:, 1])
    unit = steps / np.where(length > 0.0, length, 1.0)[:, None]
    by = share * reversal_shift_at(toolpath.moves["speed_mm_s"], machine)[:, None] * unit
    moved = np.zeros_like(points)
    off = kind == MoveKind.RUN_UP
    into = np.flatnonzero(off[:-1] & rows[1:])
    moved[into] = by[into + 1]
    out = np.flatnonzero(off[1:] & rows[:-1]) + 1
    meeting = np.isin(out + 1, into)
    moved[out[~meeting] + 1] = by[out[~meeting] - 1]
    meet = out[meeting]
    moved[meet + 1] = np.hypot(by[meet - 1, 0], by[meet - 1, 1])[:, None] * unit[meet - 1]
    burned = np.flatnonzero(rows)
    moved[burned] = by[burned]
    moved[burned + 1] = by[burned]
    points = points + moved
    moves = toolpath.moves.copy()
    moves["x_mm"], moves["y_mm"] = points[1:, 0], points[1:, 1]
    return Toolpath(moves, (float(points[0, 0]), float(points[0, 1])))
