"""A time that no plan of an engraving can beat, whatever its cells.

Every mm of burn belongs to a row or to a loop. A row that is burned in one go from a to b takes one
turn and (b − a) / speed, or somewhat more if it burns while it speeds up and slows down; of all
lines through a point and all stretches of them, the one with the least time for a mm of burn is the
least that the point can cost in any row of any plan. In loops the point costs what the loops of the
whole area take where it lies: corners and bends are theirs, travel is not counted. The smaller of
the two, averaged over the area, times the area over the interval, is the bound: area / interval /
speed and the run-ups and bends that no division into cells avoids. Rows of different points need
not fit together, so the bound may be out of reach; :mod:`benchmarks._engraving_cover` lets them
share and is tighter for solid areas. Points are sampled, lines at every ``STEP_DEG``.
"""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn, row_motion
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.rows import edges_of
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import move_times_s
from kerfwright.shop.machine import Machine

STEP_DEG = 7.5

POINTS = 600


def lower_bound_s(area: MultiPolygon, burn: Burn, machine: Machine) -> float:
    """Seconds that engraving ``area`` once takes at the least."""
    points, loop_rate = _sampled(area, burn, machine)
    rate = np.minimum(loop_rate, _row_rates(area, points, burn, machine))
    return float(area.area / burn.interval_mm * rate.mean())


def _sampled(area: MultiPolygon, burn: Burn, machine: Machine) -> tuple[FloatArray, FloatArray]:
    """Points spread evenly over the loops, and the loops' seconds for a mm there."""
    toolpath = contour_parallel(area, burn, machine).toolpath
    seconds, length = move_times_s(toolpath, machine), toolpath.lengths_mm
    burning = np.flatnonzero(toolpath.burning & (length > 0.0))
    run = np.cumsum(length[burning])
    rng = np.random.default_rng(1)
    along = (np.arange(POINTS) + rng.random(POINTS)) / POINTS * run[-1]
    pick = np.minimum(np.searchsorted(run, along), len(run) - 1)
    move = burning[pick]
    share = (run[pick] - along) / length[move]
    ends = toolpath.points
    points = ends[move + 1] + share[:, None] * (ends[move] - ends[move + 1])
    return points, seconds[move] / length[move]


def _row_rates(area: MultiPolygon, points: FloatArray, burn: Burn, machine: Machine) -> FloatArray:
    best = np.full(len(points), np.inf)
    for angle in np.arange(0.0, 180.0, STEP_DEG).tolist():
        motion = row_motion(machine, burn, angle)
        edges = edges_of(area, angle)
        low, high = np.minimum(edges[:, 1], edges[:, 3]), np.maximum(edges[:, 1], edges[:, 3])
        for number, (x, y) in enumerate(rotation(-angle).apply(points)):
            met = edges[(low <= y) & (y < high)]
            cross = met[:, 0] + (y - met[:, 1]) * (met[:, 2] - met[:, 0]) / (met[:, 3] - met[:, 1])
            ends = np.sort(cross)
            a, b = ends[0::2], ends[1::2]
            at = int(np.searchsorted(a, x)) - 1
            if at < 0 or b[at] < x:
                continue
            burned = np.concatenate([[0.0], np.cumsum(b - a)])
            from_a, to_b = np.meshgrid(np.arange(at + 1), np.arange(at, len(a)))
            taken = motion.row_s(b[to_b] - a[from_a])
            best[number] = min(
                best[number], float((taken / (burned[to_b + 1] - burned[from_a])).min())
            )
    return best
