"""Angles of rows worth trying in an area's cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.cell_grid import grid_of, row_rates_of, sweep_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine

BOXES = 12_000
"""Angles are compared on a grid of about this many boxes."""

SAME_DIRECTION_DEG = 4.0

STRONG_SHARE = 0.06
"""A direction with at least this share of the outline's length is tried for rows."""

MOST_DIRECTIONS = 8

MOST_ANGLES = 6

STEP_DEG = 15.0

WORTH_SHARE = 0.01
"""An angle is kept for the cells if it saves at least this share of all rows' time."""

NEIGHBOURS = 6

WORTH_SCANNING = 0.98
"""Rows over all of an area are laid at one angle more if it promises at most this share."""


@dataclass(frozen=True, slots=True)
class Angles:
    """Angles for the rows of an area; ``of_cells`` for its cells, at most ``MOST_ANGLES``.

    ``promised_s`` has what rows over all of the area seem to take at every angle looked at.
    """

    of_cells: tuple[float, ...]
    promised_s: dict[float, float]

    def worth_scanning(self, scanned: Sequence[float]) -> list[float]:
        """``scanned``, and the most promising angle if it promises clearly less than they do."""
        best = min(self.promised_s, key=lambda angle: self.promised_s[angle])
        known = [
            seconds
            for angle, seconds in self.promised_s.items()
            if any(away_deg(angle, other) <= SAME_DIRECTION_DEG for other in scanned)
        ]
        if known and self.promised_s[best] > WORTH_SCANNING * min(known):
            return list(scanned)
        return [*scanned, best]


def away_deg(one_deg: float, other_deg: float) -> float:
    """Angle between two directions of rows, 0 to 90."""
    return abs((one_deg - other_deg + 90.0) % 180.0 - 90.0)


def angles_of(area: MultiPolygon, long_deg: float, burn: Burn, machine: Machine) -> Angles:
    """Angles for the rows of an area and of its cells, 0 ≤ angle < 180.

    The first is the direction of the strongest edges, along which the grid lies, and the second
    is across it. Tried for the others are the directions of more edges, those from piece to
    piece, level, upright, ``long_deg`` and every ``STEP_DEG``; the one that saves most beside
    those taken already is taken next.
    """
    strong = directions_deg(*edge_steps(area))
    frame = strong[0] if strong else 0.0
    if abs((frame + 45.0) % 90.0 - 45.0) < 0.5:
        frame = 0.0
    taken = [frame, (frame + 90.0) % 180.0]
    tried = [*taken]
    rows_of_pieces = directions_deg(*_piece_steps(area))
    for angle in (0.0, 90.0, *strong, long_deg, *rows_of_pieces, *np.arange(0.0, 180.0, STEP_DEG)):
        if min(away_deg(angle, known) for known in tried) > SAME_DIRECTION_DEG:
            tried.append(float(angle))
    grid = grid_of(area, frame, burn.interval_mm, BOXES)
    rates = np.array(
        [row_rates_of(grid, sweep_of(grid, angle, burn, machine), burn) for angle in tried]
    )
    seconds = rates * grid.held_mm2 / burn.interval_mm
    best = seconds[:2].min(axis=0)
    while len(taken) < MOST_ANGLES:
        saved = np.maximum(best - seconds, 0.0).sum(axis=1)
        chosen = int(np.argmax(saved))
        if saved[chosen] < WORTH_SHARE * best.sum():
            break
        taken.append(tried[chosen])
        best = np.minimum(best, seconds[chosen])
    promised = dict(zip(tried, seconds.sum(axis=1).tolist(), strict=True))
    return Angles(tuple(taken), promised)


def directions_deg(steps: FloatArray, weight: FloatArray) -> list[float]:
    """Directions in which much of ``steps`` points, 0 ≤ angle < 180, the strongest first.

    ``steps`` has shape (n, 2), ``weight`` says how much each counts.
    """
    angle = np.degrees(np.arctan2(steps[:, 1], steps[:, 0])) % 180.0
    total = float(weight.sum())
    left = weight.copy()
    found: list[float] = []
    while len(found) < MOST_DIRECTIONS and total > 0.0:
        bins = np.bincount(np.round(angle).astype(np.int64) % 180, left, minlength=180)
        sums = bins + np.roll(bins, 1) + np.roll(bins, -1)
        best = int(np.argmax(sums))
        if sums[best] < STRONG_SHARE * total:
            break
        away = (angle - best + 90.0) % 180.0 - 90.0
        near = (np.abs(away) <= 1.5) & (left > 0.0)
        exact = best + float(np.average(away[near], weights=left[near]))
        found.append(round(exact % 180.0, 3) % 180.0)
        left[np.abs(away) <= SAME_DIRECTION_DEG] = 0.0
    return found


def edge_steps(area: MultiPolygon) -> tuple[FloatArray, FloatArray]:
    """Every edge of an area as a step, shape (n, 2), and its length."""
    rings = [ring for p in area.geoms for ring in (p.exterior, *p.interiors)]
    steps = np.vstack([np.diff(np.asarray(ring.coords)[:, :2], axis=0) for ring in rings])
    return steps, np.hypot(steps[:, 0], steps[:, 1])


def _piece_steps(area: MultiPolygon) -> tuple[FloatArray, FloatArray]:
    """Ways from the middle of every piece to those of its neighbours, the smaller area's weight."""
    middles = shapely.get_coordinates(shapely.centroid(np.array(area.geoms)))
    count = min(NEIGHBOURS + 1, len(middles))
    if count < 2:
        return np.zeros((0, 2)), np.zeros(0)
    _, near = cKDTree(middles).query(middles, k=count)
    sizes = shapely.area(np.array(area.geoms))
    others = np.asarray(near)[:, 1:]
    steps = middles[others] - middles[:, None]
    weight = np.minimum(sizes[others], sizes[:, None])
    return steps.reshape(-1, 2), weight.reshape(-1)
