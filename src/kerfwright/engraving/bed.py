"""Run-ups at the edge of the bed."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from kerfwright.engraving.lean import straightened
from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import BURNING_KINDS, MoveKind, Toolpath

CLOSE_MM = 1e-9


def keep_on_bed(
    toolpath: Toolpath, machine: Machine, angle_deg: float | None = None
) -> tuple[Toolpath, tuple[Finding, ...]]:
    """Shorten run-ups of rows that reach beyond the bed, and say how many.

    Points reached with the beam off slide back along their row until they lie on the bed. Burns
    are never moved. All rows lie at ``angle_deg``; without it, each point's row is that of the
    run-up that begins or ends there, so that cells and passes may have different angles.
    """
    size = np.array([machine.bed_width_mm, machine.bed_height_mm])
    outside: npt.NDArray[np.bool_] = (toolpath.points < -CLOSE_MM) | (
        toolpath.points > size + CLOSE_MM
    )
    toolpath = straightened(toolpath, np.any(outside, axis=1))
    points = toolpath.points
    kind = toolpath.moves["kind"]
    beyond: npt.NDArray[np.bool_] = np.any(
        (points < -CLOSE_MM) | (points > size + CLOSE_MM), axis=1
    )
    burning = np.isin(kind, BURNING_KINDS)
    beyond[1:] &= ~burning
    beyond[:-1] &= ~burning
    if not beyond.any():
        return toolpath, ()
    row = _row_directions(points, kind, burning, angle_deg)
    low = np.full(len(points), -np.inf)
    high = np.full(len(points), np.inf)
    for axis in (0, 1):
        share = row[:, axis]
        along = np.abs(share) > 1e-9
        ends = np.column_stack([-points[:, axis], size[axis] - points[:, axis]])[along]
        ends /= share[along, None]
        low[along] = np.maximum(low[along], ends.min(axis=1))
        high[along] = np.minimum(high[along], ends.max(axis=1))
    beyond &= (low <= high) & row.any(axis=1)
    slide = np.where(beyond, np.clip(0.0, low, high), 0.0)
    points = points + slide[:, None] * row

    moved = np.abs(slide) > CLOSE_MM
    starts_burn = (kind[:-1] == MoveKind.RUN_UP) & burning[1:]
    short = int((moved[:-2] & starts_burn).sum())
    moves = toolpath.moves.copy()
    moves["x_mm"], moves["y_mm"] = points[1:, 0], points[1:, 1]
    steps = np.hypot(*np.diff(points, axis=0).T)
    start = (float(points[0, 0]), float(points[0, 1]))
    return Toolpath(moves[steps > CLOSE_MM], start), _findings(short)


def _row_directions(
    points: FloatArray,
    kind: npt.NDArray[np.uint8],
    burning: npt.NDArray[np.bool_],
    angle_deg: float | None,
) -> FloatArray:
    """Unit vector along every point's row, shape (n, 2); zero where no run-up begins or ends."""
    if angle_deg is not None:
        angle = math.radians(angle_deg)
        return np.tile([math.cos(angle), math.sin(angle)], (len(points), 1))
    steps = np.diff(points, axis=0)
    length = np.hypot(steps[:, 0], steps[:, 1])
    unit = steps / np.maximum(length, CLOSE_MM)[:, None]
    off = (kind == MoveKind.RUN_UP) & (length > CLOSE_MM)
    rows = np.zeros_like(points)
    before = np.flatnonzero(off[:-1] & burning[1:])
    rows[before] = unit[before]
    after = np.flatnonzero(off[1:] & burning[:-1]) + 1
    rows[after + 1] = unit[after]
    return rows


def _findings(short: int) -> tuple[Finding, ...]:
    if short == 0:
        return ()
    return (
        Finding(
            Severity.NOTE,
            "engraving/short-run-up",
            f"{number_of(short, 'row')} too near the edge of the bed for a full run-up, so burned "
            "slower at the start.",
            "Move the part away from the edge, or engrave slower.",
            count=short,
        ),
    )
