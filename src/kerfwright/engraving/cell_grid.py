"""A coarse grid over an area: what of it lies in every box, and the lines that rows would follow.

The division of an area into cells is searched on this grid and not on the rows themselves: a
grid line stands for all rows as high as it is. The grid lies along the area's strongest edges
and has its lines through their ends, so that a cell can end exactly where an edge does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn, row_motion
from kerfwright.engraving.grid_kernel import fill_boxes, row_rates
from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine

MOST_BOXES = 50_000
"""About as many boxes as the grid over the whole area may have."""

LEAST_PITCH_INTERVALS = 2.0

MOST_EDGE_LINES = 400
"""Grid lines each way that may be put through the ends of edges, the longest edges first."""

LEAST_SHARE = 0.005
"""Boxes that hold less than this share of area count as empty: edges touch them by rounding."""

SUBLINES = 4
"""Lines in every box on which its share of the area is measured."""


@dataclass(frozen=True, eq=False, slots=True)
class Sweep:
    """Boxes of a grid in the order in which rows at one angle pass over them.

    Line ``l`` holds ``order[start[l]:start[l + 1]]``. ``at`` is the middle of every box along
    the rows and ``half`` half its length, both by box; ``line_of`` is its line. ``rows`` is how
    many rows a line stands for.
    """

    angle_deg: float
    order: IntArray
    start: IntArray
    line_of: IntArray
    at: FloatArray
    half: FloatArray
    rows: FloatArray
    motion: FloatArray
    """The rows' :attr:`~kerfwright.engraving.burn.RowMotion.closed_form`."""


@dataclass(frozen=True, eq=False, slots=True)
class Grid:
    """Boxes that hold something of an area, in a frame turned by ``-frame_deg``.

    ``x`` and ``y`` are the grid lines; ``column``, ``row``, ``held_mm2`` and ``piece`` have an
    entry for every box that is not empty: where it lies, how much area it holds, and the polygon
    that most of that belongs to.
    """

    frame_deg: float
    x: FloatArray
    y: FloatArray
    column: IntArray
    row: IntArray
    held_mm2: FloatArray
    piece: IntArray
    pitch_mm: float


def grid_of(
    area: MultiPolygon, frame_deg: float, interval_mm: float, boxes: int = MOST_BOXES
) -> Grid:
    """Lay a grid over an area, its lines through the ends of edges that lie along it.

    It has about ``boxes`` boxes over the area's whole extent, or fewer if they would be smaller
    than a few intervals.
    """
    turn = rotation(-frame_deg)
    rings, first = [], [0]
    for polygon in area.geoms:
        own = [np.asarray(r.coords)[:, :2] for r in (polygon.exterior, *polygon.interiors)]
        rings += own
        first.append(first[-1] + sum(len(ring) - 1 for ring in own))
    turned = [turn.apply(ring) for ring in rings]
    edges = np.vstack([np.hstack([ring[:-1], ring[1:]]) for ring in turned])
    low = np.minimum(edges[:, :2].min(axis=0), edges[:, 2:].min(axis=0))
    high = np.maximum(edges[:, :2].max(axis=0), edges[:, 2:].max(axis=0))
    size = np.maximum(high - low, interval_mm)
    pitch = max(math.sqrt(float(size[0] * size[1]) / boxes), LEAST_PITCH_INTERVALS * interval_mm)
    x = _lines(low[0], high[0], pitch, edges[:, [0, 1, 2, 3]])
    y = _lines(low[1], high[1], pitch, edges[:, [1, 0, 3, 2]])
    sub = np.repeat(np.diff(y) / SUBLINES, SUBLINES)
    heights = np.repeat(y[:-1], SUBLINES) + sub * (np.tile(np.arange(SUBLINES), len(y) - 1) + 0.5)
    held, piece = fill_boxes(
        np.ascontiguousarray(edges), np.array(first, dtype=np.int64), x, heights, sub, SUBLINES
    )
    size_mm2 = np.diff(y)[:, None] * np.diff(x)
    row, column = np.nonzero(held > LEAST_SHARE * size_mm2)
    return Grid(
        frame_deg, x, y, column, row, held[row, column], piece[row, column].astype(np.int64), pitch
    )


def _lines(low: float, high: float, pitch: float, edges: FloatArray) -> FloatArray:
    """Grid lines from ``low`` to ``high``, at most ``pitch`` apart, some through edges' places.

    ``edges`` has the coordinate that the lines divide in columns 0 and 2; edges at one such
    coordinate pull a line onto it, the longest first, unless one lies within a third of a pitch.
    """
    level = np.abs(edges[:, 2] - edges[:, 0]) < 1e-4
    place, length = edges[level, 0], np.abs(edges[level, 3] - edges[level, 1])
    place, length = place[length > 0.5 * pitch], length[length > 0.5 * pitch]
    spots, which = np.unique(np.round(place, 4), return_inverse=True)
    weight = np.bincount(which.reshape(-1), length, minlength=len(spots))
    kept = [low, high]
    for spot in spots[np.argsort(-weight, kind="stable")][:MOST_EDGE_LINES].tolist():
        if np.abs(np.array(kept) - spot).min() > pitch / 3.0:
            kept.append(spot)
    fixed = np.sort(np.array(kept))
    parts = [
        np.linspace(a, b, max(1, round((b - a) / pitch)), endpoint=False)
        for a, b in zip(fixed[:-1].tolist(), fixed[1:].tolist(), strict=True)
    ]
    return np.append(np.concatenate(parts), high)


def sweep_of(grid: Grid, angle_deg: float, burn: Burn, machine: Machine) -> Sweep:
    """Put the boxes into the lines that rows at ``angle_deg`` follow."""
    width, height = np.diff(grid.x)[grid.column], np.diff(grid.y)[grid.row]
    middle = np.column_stack(
        [
            0.5 * (grid.x[:-1] + grid.x[1:])[grid.column],
            0.5 * (grid.y[:-1] + grid.y[1:])[grid.row],
        ]
    )
    turned = (angle_deg - grid.frame_deg) % 180.0
    if turned == 0.0:
        line, at, half, broad = grid.row, middle[:, 0], 0.5 * width, np.diff(grid.y)
    elif turned == 90.0:
        line, at, half, broad = grid.column, middle[:, 1], 0.5 * height, np.diff(grid.x)
    else:
        across = rotation(-turned).apply(middle)
        line = np.floor((across[:, 1] - across[:, 1].min()) / grid.pitch_mm).astype(np.int64)
        at, half = across[:, 0], 0.5 * width * height / grid.pitch_mm
        broad = np.full(int(line.max()) + 1, grid.pitch_mm)
    order = np.lexsort([at, line])
    start = np.searchsorted(line[order], np.arange(len(broad) + 1))
    motion = row_motion(machine, burn, angle_deg)
    return Sweep(
        angle_deg,
        order.astype(np.int64),
        start.astype(np.int64),
        line.astype(np.int64),
        at,
        half,
        broad / burn.interval_mm,
        motion.closed_form,
    )


def row_rates_of(grid: Grid, sweep: Sweep, burn: Burn) -> FloatArray:
    """Seconds for a mm of burn in every box, were the whole area burned at one angle."""
    burned = grid.held_mm2 / burn.interval_mm / sweep.rows[sweep.line_of]
    rates: FloatArray = row_rates(
        sweep.order, sweep.start, sweep.at, sweep.half, burned, sweep.motion
    )
    return rates
