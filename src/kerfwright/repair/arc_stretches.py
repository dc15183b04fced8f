"""Arcs of circles of which every stretch is kept once, wherever they lie over one another."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.repair import overlap_kernel
from kerfwright.repair.cell_kernel import NO_END, TINY_MM
from kerfwright.repair.stretches import OVERLAP_MM, BoolArray, IntArray, ranks

TURN = 2.0 * math.pi

SEAM_RAD = 0.7390851
"""Where circles are cut open for the sweep: where nobody draws the end of an arc."""


@dataclass(frozen=True, eq=False, slots=True)
class ArcStretches:
    """What is kept of arcs, in the order of the arcs and along each."""

    arc: IntArray
    """Number of the arc, shape (m,)."""
    span_rad: FloatArray
    """From, to, as angles passed since the arc's start whichever way it runs; shape (m, 2)."""
    bounds: IntArray
    """Where a stretch is cut at an end of another arc, that end: 2 a for the start of arc a,
    2 a + 1 for its end; ``NO_END`` elsewhere. Shape (m, 2)."""


def kept_arcs(
    arcs: FloatArray,
    tol_mm: float = OVERLAP_MM,
    *,
    priority: IntArray | None = None,
    whole: BoolArray | None = None,
) -> ArcStretches:
    """Find what remains of arcs if all is kept once.

    ``arcs`` are rows of centre x, y, radius in mm, start and sweep in rad, shape (n, 5); a sweep of
    a turn or more is a full circle. Arcs are on one circle if the distance of their centres and
    the difference of their radii together are at most ``tol_mm`` from those of the longest of
    them. Which arc is kept, and what ``priority`` and ``whole`` mean: see
    :func:`~kerfwright.repair.stretches.kept_stretches`. Arcs that are not exactly on one circle
    leave no remains as short as the tolerance.
    """
    if not 0.0 <= tol_mm < math.inf:
        raise ValueError(f"the tolerance must be 0 or more, not {tol_mm}")
    given = np.ascontiguousarray(arcs, dtype=np.float64).reshape(-1, 5)
    n = len(given)
    priority = np.zeros(n, np.int64) if priority is None else np.asarray(priority, np.int64)
    whole = np.zeros(n, np.bool_) if whole is None else np.asarray(whole, np.bool_)
    sweep = np.abs(given[:, 4])
    real = np.flatnonzero(given[:, 2] * sweep > TINY_MM)
    if len(real) == 0:
        return ArcStretches(np.empty(0, np.int64), np.empty((0, 2)), np.empty((0, 2), np.int64))
    rows = given[real]
    rows[:, :2] -= 0.5 * (rows[:, :2].min(axis=0) + rows[:, :2].max(axis=0))
    of, span, bounds = _kept(rows, max(tol_mm, TINY_MM), priority[real], whole[real])
    named = np.where(bounds == NO_END, NO_END, 2 * real[bounds >> 1] + (bounds & 1))
    return ArcStretches(real[of], span, named)


def _kept(
    arcs: FloatArray, tol_mm: float, priority: IntArray, whole: BoolArray
) -> tuple[IntArray, FloatArray, IntArray]:
    length = arcs[:, 2] * np.abs(arcs[:, 4])
    rounded = np.round(np.column_stack([arcs[:, :3], length]), 6)
    longest_first = np.lexsort((rounded[:, 1], rounded[:, 0], rounded[:, 2], -rounded[:, 3]))
    circle, taken = overlap_kernel.circles(arcs, longest_first, tol_mm)
    reference = arcs[taken[circle], :3]
    apart = np.hypot(*(arcs[:, :2] - reference[:, :2]).T) + np.abs(arcs[:, 2] - reference[:, 2])
    least = np.where(apart > TINY_MM, tol_mm, TINY_MM)

    # stretches of the circle in mm, those that pass the seam in two items
    radius = reference[:, 2]
    turn = TURN * radius
    back = arcs[:, 4] < 0.0
    extent = np.minimum(np.abs(arcs[:, 4]), TURN) * radius
    extent = np.where(extent >= turn - TINY_MM, turn, extent)
    start = np.where(back, arcs[:, 3] + arcs[:, 4], arcs[:, 3]) - SEAM_RAD
    low = (start % TURN) * radius
    low = np.where(low >= turn - TINY_MM, 0.0, low)
    high = np.where(np.abs(low + extent - turn) <= TINY_MM, turn, low + extent)
    passes = np.flatnonzero(high > turn)
    item = np.concatenate([np.arange(len(arcs)), passes])
    item_low = np.concatenate([low, np.zeros(len(passes))])
    item_high = np.concatenate([np.minimum(high, turn), (high - turn)[passes]])
    order = overlap_kernel.grouped(np.argsort(item_low), circle[item], len(taken))
    rank = ranks(length, priority, whole)[item]
    of, span, bounds = overlap_kernel.swept(circle[item], item_low, item_high, rank, order)
    bounds = np.where(bounds == NO_END, NO_END, 2 * item[bounds >> 1] + (bounds & 1))
    # from places on the circle to places on the arc
    later = of >= len(arcs)
    of = item[of]
    span = span - low[of, None] + np.where(later, turn[of], 0.0)[:, None]
    cut = ~whole[of]
    of, span, bounds = _united_where_cut_in_two(of[cut], span[cut], bounds[cut])
    left = overlap_kernel.rounded_off(of, span, bounds, np.zeros(len(arcs)), extent, least)
    of, span, bounds = of[:left], span[:left], bounds[:left]
    turned = back[of]
    span[turned] = extent[of[turned], None] - span[turned][:, ::-1]
    bounds[turned] = bounds[turned][:, ::-1]
    bounds = np.where(bounds == NO_END, NO_END, bounds ^ back[bounds >> 1].astype(np.int64))
    uncut = np.flatnonzero(whole)
    of = np.concatenate([of, uncut])
    span = np.vstack([span, np.column_stack([np.zeros(len(uncut)), extent[uncut]])])
    bounds = np.vstack([bounds, np.full((len(uncut), 2), NO_END)])
    order = np.lexsort((span[:, 0], of))
    of, span, bounds = of[order], span[order], bounds[order]
    sweep = np.abs(arcs[of, 4])
    full = np.minimum(sweep, TURN)
    angles = np.where(span == extent[of, None], full[:, None], span / radius[of, None])
    return of, np.minimum(angles, full[:, None]), bounds


def _united_where_cut_in_two(
    of: IntArray, span: FloatArray, bounds: IntArray
) -> tuple[IntArray, FloatArray, IntArray]:
    """Join pieces of one arc that follow on one another; the seam is no end."""
    order = np.lexsort((span[:, 0], of))
    of, span, bounds = of[order], span[order], bounds[order]
    solid = span[:, 1] > span[:, 0]
    of, span, bounds = of[solid], span[solid], bounds[solid]
    goes_on = np.zeros(len(of), dtype=bool)
    goes_on[1:] = (of[1:] == of[:-1]) & (span[1:, 0] - span[:-1, 1] <= 0.5 * TINY_MM)
    first = np.flatnonzero(~goes_on)
    last = np.append(first, len(of))[1:] - 1
    return (
        of[first],
        np.column_stack([span[first, 0], span[last, 1]]),
        np.column_stack([bounds[first, 0], bounds[last, 1]]),
    )
