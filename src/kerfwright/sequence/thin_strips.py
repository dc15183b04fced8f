"""Where cuts run for a long way beside another cut, or beside the edge of the sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.nesting.model import SheetSize
from kerfwright.sequence.tour import IntArray
from kerfwright.toolpath import MoveKind, Toolpath

LEAST_STEP_MM = 0.25
EDGE_STEP_MM = 1.0
"""Distance of the points on cuts that are looked at."""

PARALLEL = float(np.cos(np.radians(20.0)))


@dataclass(frozen=True, slots=True)
class LongStrip:
    """Cut lines of ``length_mm`` in all that run beside one another without a break.

    ``x_mm`` and ``y_mm`` are a point on them, on the sheet.
    """

    length_mm: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class _Points:
    """Points along the cuts, ``step_mm`` apart, with the direction there; shape (n, 2) both."""

    step_mm: float
    at: FloatArray
    direction: FloatArray


def strips_between_cuts(
    toolpath: Toolpath, *, closer_mm: float, kerf_mm: float, long_mm: float, passes: int = 1
) -> tuple[LongStrip, ...]:
    """Find cuts closer than ``closer_mm`` to a parallel one, in stretches of ``long_mm`` or more.

    Lines no further apart than the kerf leave nothing standing between them and do not count.
    The stretches are the longest first; both lines of a strip count, every pass once.
    """
    points = _along_cuts(toolpath, max(0.5 * closer_mm, LEAST_STEP_MM))
    if len(points.at) == 0:
        return ()
    reach_mm = float(np.hypot(closer_mm, points.step_mm))
    tree = cKDTree(points.at)
    pairs = tree.query_pairs(reach_mm, output_type="ndarray")
    between = points.at[pairs[:, 1]] - points.at[pairs[:, 0]]
    first, second = (points.direction[pairs[:, k]] for k in (0, 1))
    along = np.abs((between * first).sum(axis=1))
    beside = np.abs(between[:, 0] * first[:, 1] - between[:, 1] * first[:, 0])
    parallel = np.abs((first * second).sum(axis=1)) > PARALLEL
    strip = parallel & (along <= points.step_mm)
    strip &= (beside > kerf_mm + SAME_MM) & (beside < closer_mm)
    return _long(points, np.unique(pairs[strip]), reach_mm, long_mm, passes)


def cuts_along_edge(
    toolpath: Toolpath, sheet: SheetSize, *, closer_mm: float, long_mm: float, passes: int = 1
) -> tuple[LongStrip, ...]:
    """Find cuts closer than ``closer_mm`` to the material's edge, as of ``strips_between_cuts``."""
    points = _along_cuts(toolpath, EDGE_STEP_MM)
    edge = sheet.material.boundary
    shapely.prepare(edge)
    near = np.flatnonzero(shapely.dwithin(shapely.points(points.at), edge, closer_mm))
    return _long(points, near, 2.0 * EDGE_STEP_MM, long_mm, passes)


def _along_cuts(toolpath: Toolpath, step_mm: float) -> _Points:
    moves = np.flatnonzero((toolpath.moves["kind"] == MoveKind.CUT) & toolpath.burning)
    lengths = toolpath.lengths_mm[moves]
    moves, lengths = moves[lengths > 0.0], lengths[lengths > 0.0]
    reached = np.cumsum(lengths)
    whole_mm = float(reached[-1]) if len(reached) else 0.0
    wanted = (np.arange(int(whole_mm / step_mm)) + 0.5) * step_mm
    which = np.minimum(np.searchsorted(reached, wanted), len(moves) - 1)
    starts, ends = toolpath.points[moves[which]], toolpath.points[moves[which] + 1]
    direction = (ends - starts) / lengths[which, None]
    into = wanted - (reached[which] - lengths[which])
    return _Points(step_mm, starts + into[:, None] * direction, direction)


def _long(
    points: _Points, near: IntArray, reach_mm: float, long_mm: float, passes: int
) -> tuple[LongStrip, ...]:
    """Stretches of points that hang together, from ``long_mm`` on, the longest first."""
    if len(near) == 0:
        return ()
    at = points.at[near]
    pairs = cKDTree(at).query_pairs(reach_mm, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), (len(at), len(at)))
    count, label = connected_components(links, directed=False)
    lengths = np.bincount(label, minlength=count) * points.step_mm / passes
    found = []
    for number in np.argsort(-lengths, kind="stable"):
        if lengths[number] < long_mm:
            break
        members = at[label == number]
        x_mm, y_mm = members[len(members) // 2].tolist()
        found.append(LongStrip(float(lengths[number]), x_mm, y_mm))
    return tuple(found)
