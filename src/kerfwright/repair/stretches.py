"""Straight segments of which every stretch is kept once, wherever they lie over one another.

Two steps. Segments of one straight line, but for rounding, are united exactly on it. What is left
is linked to chains where exactly two ends meet, and the chains are laid one after another, the
longest first: a place of a chain lies on a kept segment if the distance to it, square to the
chain, is at most the tolerance and the directions differ little. Places that follow one another
along a chain are a run, and a run is given up

- if lines end, or turn by more than 45 degrees, at both its ends, and it is longer than 8
  tolerances (2 tolerances if it is the whole chain, 100 if it lies on its own chain);
- otherwise, where lines part or cross gradually, only if it is longer than 1000 tolerances, which
  are 10 mm as a rule: the point of a narrow crescent and the touch of a straight line on a curve
  are part of the drawing, and no repeats.

Directions may differ by a slope of 0.02, and by more where a piece is short: chords of one curve
that is flattened twice differ by up to 4 chord errors over each chord's length.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair import link_kernel, near_overlap_kernel, overlap_kernel
from kerfwright.repair.cell_kernel import NO_END, TINY_MM, Grid, mark
from kerfwright.repair.near_overlap_kernel import LONG, LONGS, STEEPEST_LONG, Given, Kept

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

OVERLAP_MM = 0.01
"""Lines this close are one: as far as a chord may stray from its curve."""

SAME_RAD = 1e-9
STRAIGHT_COSINE = math.cos(math.radians(45.0))
MOST_PLACES = 1 << 24


@dataclass(frozen=True, eq=False, slots=True)
class Stretches:
    """What is kept of segments, in the order of the segments and along each."""

    segment: IntArray
    """Number of the segment, shape (m,)."""
    span_mm: FloatArray
    """From, to, in mm along the segment; shape (m, 2)."""
    bounds: IntArray
    """Where a stretch is cut at an end of another segment, that end: 2 s for the start of segment
    s, 2 s + 1 for its end; ``NO_END`` elsewhere. Within the tolerance it is where the cut is.
    Shape (m, 2)."""

    @property
    def length_mm(self) -> float:
        """Length of all stretches."""
        return float((self.span_mm[:, 1] - self.span_mm[:, 0]).sum())


def kept_stretches(
    segments: FloatArray,
    tol_mm: float = OVERLAP_MM,
    *,
    priority: IntArray | None = None,
    whole: BoolArray | None = None,
) -> Stretches:
    """Find what remains of segments (x, y, x, y; shape (n, 4), mm) if all is kept once.

    Of several that lie over one another the one of the highest ``priority`` is kept, then the
    longest, then the one of the lowest number; so none is cut in two by one of its own priority.
    What is ``whole`` is kept as it is whatever it lies on, and comes before everything else.
    Touching is no overlap. Lengths of what lies on one straight line are exact; see the module
    for what counts as lying on one another within ``tol_mm``.
    """
    if not 0.0 <= tol_mm < math.inf:
        raise ValueError(f"the tolerance must be 0 or more, not {tol_mm}")
    given = np.ascontiguousarray(segments, dtype=np.float64).reshape(-1, 4)
    n = len(given)
    priority = np.zeros(n, np.int64) if priority is None else np.asarray(priority, np.int64)
    whole = np.zeros(n, np.bool_) if whole is None else np.asarray(whole, np.bool_)
    length = np.hypot(given[:, 2] - given[:, 0], given[:, 3] - given[:, 1])
    real = np.flatnonzero(length > TINY_MM)
    if len(real) == 0:
        return Stretches(np.empty(0, np.int64), np.empty((0, 2)), np.empty((0, 2), np.int64))
    corners = given[real].reshape(-1, 2)
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    lines = _Lines((corners - middle).reshape(-1, 4), length[real], priority[real], whole[real])
    of, span, bounds = _kept_exactly(lines)
    if tol_mm > TINY_MM:
        of, span, bounds = _kept_nearly(lines, of, span, bounds, tol_mm)
    of, span, bounds = _with_whole_lines(lines, of, span, bounds)
    named = np.where(bounds == NO_END, NO_END, 2 * real[bounds >> 1] + (bounds & 1))
    return Stretches(real[of], span, named)


@dataclass(frozen=True, eq=False, slots=True)
class _Lines:
    ends: FloatArray
    length: FloatArray
    priority: IntArray
    whole: BoolArray


def ranks(length: FloatArray, priority: IntArray, whole: BoolArray) -> IntArray:
    """Place of each in the order of what is kept first: whole, by priority, by length."""
    rank = np.empty(len(length), np.int64)
    rank[np.lexsort((-np.round(length, 6), -priority, ~whole))] = np.arange(len(length))
    return rank


Pieces = tuple[IntArray, FloatArray, IntArray]
"""Of every piece of a line its line, from and to along it, and the ends of others that bound it."""


def _kept_exactly(lines: _Lines) -> Pieces:
    """Unite segments that lie on one straight line but for rounding."""
    step = lines.ends[:, 2:] - lines.ends[:, :2]
    # lines along the axes are the usual ones and must not lie where the angle starts anew
    angle = (np.arctan2(step[:, 1], step[:, 0]) + 0.1) % np.pi
    family, longest = overlap_kernel.families(angle, np.argsort(angle), lines.length, SAME_RAD)
    u = (step[longest] / lines.length[longest, None])[family]
    x, y = (lines.ends[:, :2] + 0.5 * step).T
    offset = u[:, 0] * y - u[:, 1] * x
    order = overlap_kernel.grouped(np.argsort(offset), family, len(longest))
    carrier, count = overlap_kernel.carriers(family, offset, order, TINY_MM)
    start = u[:, 0] * lines.ends[:, 0] + u[:, 1] * lines.ends[:, 1]
    end = u[:, 0] * lines.ends[:, 2] + u[:, 1] * lines.ends[:, 3]
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = overlap_kernel.grouped(np.argsort(low), carrier, count)
    rank = ranks(lines.length, lines.priority, lines.whole)
    of, span, bounds = overlap_kernel.swept(carrier, low, high, rank, order)
    left = overlap_kernel.rounded_off(of, span, bounds, low, high, np.full(len(low), TINY_MM))
    of, span, bounds = of[:left], span[:left], bounds[:left]
    # from along the carrier to along each line
    back = (end < start).astype(np.int64)
    own = np.column_stack([span[:, 0] - low[of], high[of] - span[:, 1]])
    turn = back[of] == 1
    own[turn] = own[turn][:, ::-1]
    bounds[turn] = bounds[turn][:, ::-1]
    own[:, 1] = lines.length[of] - own[:, 1]
    bounds = np.where(bounds == NO_END, NO_END, bounds ^ back[bounds >> 1])
    order = np.lexsort((own[:, 0], of))
    return of[order], own[order], bounds[order]


def _kept_nearly(
    lines: _Lines, of: IntArray, span: FloatArray, bounds: IntArray, tol_mm: float
) -> Pieces:
    """Take from pieces what lies on others within a tolerance."""
    unit = (lines.ends[:, 2:] - lines.ends[:, :2]) / lines.length[:, None]
    points = lines.ends.reshape(-1, 2)
    own = 2 * of[:, None] + np.array([0, 1])
    ends = np.where(bounds == NO_END, own, bounds)
    pieces = points[ends].reshape(-1, 4)
    outward = np.stack([-unit[of], unit[of]], axis=1).reshape(-1, 2)
    kind = lines.priority[of] * 2 + lines.whole[of]
    partner, sharp = link_kernel.linked(
        pieces.reshape(-1, 2), outward, kind, min(SAME_MM, 0.1 * tol_mm), STRAIGHT_COSINE
    )
    chain_pieces, back, starts = link_kernel.chained(partner, sharp)
    given = Given(
        pieces,
        lines.length[of],
        ends,
        sharp.reshape(-1, 2),
        lines.whole[of],
        chain_pieces,
        back.astype(np.int64),
        starts,
    )
    rows, runs = near_overlap_kernel.laid(
        given, _chain_order(given, lines.priority[of]), _empty(given, tol_mm), tol_mm
    )
    if len(rows) == 0:
        return of, span, bounds
    order = np.lexsort((runs[:, 0], rows[:, 0]))
    piece, left, left_bounds = overlap_kernel.without_runs(span, bounds, rows, runs, order)
    return of[piece], left, left_bounds


def _with_whole_lines(lines: _Lines, of: IntArray, span: FloatArray, bounds: IntArray) -> Pieces:
    """Give whole lines back what of them lies on other whole lines."""
    if not lines.whole.any():
        return of, span, bounds
    cut = ~lines.whole[of]
    uncut = np.flatnonzero(lines.whole)
    of = np.concatenate([of[cut], uncut])
    span = np.vstack([span[cut], np.column_stack([np.zeros(len(uncut)), lines.length[uncut]])])
    bounds = np.vstack([bounds[cut], np.full((len(uncut), 2), NO_END)])
    order = np.lexsort((span[:, 0], of))
    return of[order], span[order], bounds[order]


def _chain_order(given: Given, priority: IntArray) -> IntArray:
    """Whole lines first, then by priority, then the longest; equal ones by where they lie."""
    p = given.pieces[given.chain_pieces]
    length = np.hypot(p[:, 2] - p[:, 0], p[:, 3] - p[:, 1])
    starts = given.chain_starts[:-1]
    total = np.add.reduceat(length, starts)
    x = np.add.reduceat(length * (p[:, 0] + p[:, 2]), starts) / total
    y = np.add.reduceat(length * (p[:, 1] + p[:, 3]), starts) / total
    first = given.chain_pieces[starts]
    return np.lexsort(
        (
            np.round(y, 6),
            np.round(x, 6),
            -np.round(total, 6),
            -priority[first],
            ~given.whole[first],
        )
    )


def _empty(given: Given, tol_mm: float) -> Kept:
    """Grid in which nothing is kept yet, its cells as wide as suits the pieces."""
    lines = given.pieces
    length = np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1])
    is_long = given.full_mm > LONG * tol_mm
    short, long = length[~is_long], length[is_long]
    n = len(length)
    wide = 16.0 * tol_mm
    if len(short):
        wide = float(np.clip(2.0 * short.mean(), wide, LONG * tol_mm))
        wide = max(wide, float(long.sum()) / (16.0 * n))
    along = max(0.25 * LONG * tol_mm, float(long.mean()) / 4.0 if len(long) else 0.0)
    across = max(4.0 * tol_mm, STEEPEST_LONG * along)
    turned = math.ceil(0.5 * np.pi / STEEPEST_LONG)
    angle = (np.arange(turned) + 0.5) * np.pi / turned
    frames = np.array(
        [(1.0, 0.0, wide, wide)] * 2
        + [(math.cos(a), math.sin(a), along, across) for a in angle.tolist()]
    )
    cells = 2.0 * n + 1.5 * float(short.sum()) / wide + 2.0 * float(long.sum()) / along
    size = 1 << max(10, math.ceil(math.log2(min(2.0 * cells, MOST_PLACES))))
    occupied = np.zeros(size if len(short) else 0, np.bool_)
    if len(short) and len(long):
        mark(lines[~is_long], frames, LONGS, tol_mm, occupied)
    grid = Grid(
        frames, np.full(size, -1, np.int64), np.empty((n + 16, 2), np.int64), np.zeros(1, np.int64)
    )
    room = n + 16
    return Kept(
        grid,
        occupied,
        np.empty((room, 5)),
        np.empty((room, 5), np.int64),
        np.zeros(room, np.bool_),
        np.empty(room, np.int64),
        np.zeros(1, np.int64),
    )
