"""No-fit polygons as flat arrays, and how deep a place lies in one.

Outline ``a`` overlaps outline ``b`` where the difference of their places lies within a polygon
that depends on the two shapes only, the no-fit polygon (R. C. Art 1966, *An approach to the two
dimensional irregular cutting stock problem*; J. A. Bennell & J. F. Oliveira 2008, *The geometry of
nesting problems: a tutorial*, European Journal of Operational Research 184). The way to its nearest
side is the shortest way out: how long it is measures the overlap (Umetani et al. 2009, *Solving the
irregular strip packing problem via guided local search for overlap minimization*, International
Transactions in Operational Research 16).

All lengths in mm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing

IntArray = npt.NDArray[np.int64]

SLABS = 32
"""A no-fit polygon is sliced into so many slabs each way, so that few sides need be looked at."""


class NoFits(NamedTuple):
    """All pairs of ``n`` turned outlines; pair (a, b) is number ``k = a * n + b``.

    ``edge``: shape (4, m), sides x, y to x, y of pair k from ``start[k]`` on. ``inverse``: shape
    (m,), one over the square of each side's length. ``around``: shape (n * n, 4), low and high
    corner of each no-fit polygon. ``scale``: shape (n * n,), what the root of a depth counts.
    ``slab``: shape (4, m), for each side in a slab its lower and upper end across the slab, where
    it is at the lower end, and its slope; those in slab s of pair k from ``slab_start[axis, k *
    SLABS + s]`` on, axis 0 for slabs of x and 1 for slabs of y. ``box``: shape (n, 4), low and high
    corner of each outline. ``half_turned``: shape (n,), which outline each becomes by half a turn,
    -1 where it may not be turned. ``size``: shape (n,), root of the area of its hull. ``contact``:
    overlaps less deep are contact, and rounding.
    """

    edge: FloatArray
    inverse: FloatArray
    start: IntArray
    around: FloatArray
    scale: FloatArray
    slab: FloatArray
    slab_start: IntArray
    box: FloatArray
    half_turned: IntArray
    size: FloatArray
    contact: float


@njit(cache=True, nogil=True)
def slabs_of(edge: FloatArray, start: IntArray, around: FloatArray) -> tuple[FloatArray, IntArray]:
    """Slice all no-fit polygons; returns ``slab`` and ``slab_start`` of :class:`NoFits`."""
    pairs = len(start) - 1
    counts = np.zeros((2, pairs * SLABS + 1), np.int64)
    for axis in range(2):
        for k in range(pairs):
            for e in range(start[k], start[k + 1]):
                first, last = _slabs_across(edge, around, axis, k, e)
                for s in range(first, last + 1):
                    counts[axis, k * SLABS + s] += 1
    starts = np.empty_like(counts)
    total = 0
    for axis in range(2):
        for q in range(pairs * SLABS + 1):
            starts[axis, q] = total
            total += counts[axis, q]
    slab = np.empty((4, total))
    place = starts.copy()
    for axis in range(2):
        for k in range(pairs):
            for e in range(start[k], start[k + 1]):
                first, last = _slabs_across(edge, around, axis, k, e)
                low, high = edge[axis, e], edge[2 + axis, e]
                at, to = edge[1 - axis, e], edge[3 - axis, e]
                if low > high:
                    low, high, at, to = high, low, to, at
                for s in range(first, last + 1):
                    m = place[axis, k * SLABS + s]
                    place[axis, k * SLABS + s] += 1
                    slab[0, m], slab[1, m], slab[2, m] = low, high, at
                    slab[3, m] = (to - at) / (high - low)
    return slab, starts


@borrowing()
def _slabs_across(
    edge: FloatArray, around: FloatArray, axis: int, k: int, e: int
) -> tuple[int, int]:
    """First and last slab that a side reaches into; none if it runs along the slabs."""
    low, high = edge[axis, e], edge[2 + axis, e]
    if low == high:
        return 0, -1
    if low > high:
        low, high = high, low
    wide = (around[k, 2 + axis] - around[k, axis]) / SLABS
    # a little more, so that rounding leaves no side out of the slab in which it is asked for
    first = int((low - around[k, axis]) / wide - 1e-6)
    last = int((high - around[k, axis]) / wide + 1e-6)
    return max(first, 0), min(last, SLABS - 1)


@borrowing()
def slab_number(fits: NoFits, k: int, axis: int, at: float) -> int:
    """Where in ``slab_start`` the slab of pair ``k`` stands that a place within it lies in."""
    low, high = fits.around[k, axis], fits.around[k, 2 + axis]
    return k * SLABS + min(int((at - low) / (high - low) * SLABS), SLABS - 1)


@borrowing(fastmath={"reassoc", "contract", "nsz", "nnan"})
def depth(fits: NoFits, k: int, dx: float, dy: float) -> float:
    """How far (dx, dy) lies from the sides of no-fit polygon ``k``, 0 outside."""
    around = fits.around
    if dx <= around[k, 0] or dx >= around[k, 2] or dy <= around[k, 1] or dy >= around[k, 3]:
        return 0.0
    q = slab_number(fits, k, 1, dy)
    slab = fits.slab
    inside = False
    for m in range(fits.slab_start[1, q], fits.slab_start[1, q + 1]):
        if slab[0, m] <= dy < slab[1, m] and dx < slab[2, m] + (dy - slab[0, m]) * slab[3, m]:
            inside = not inside
    if not inside:
        return 0.0
    edge = fits.edge
    near = math.inf
    for e in range(fits.start[k], fits.start[k + 1]):
        px, py = edge[0, e] - dx, edge[1, e] - dy
        ux, uy = edge[2, e] - edge[0, e], edge[3, e] - edge[1, e]
        along = min(max(-(px * ux + py * uy) * fits.inverse[e], 0.0), 1.0)
        px, py = px + along * ux, py + along * uy
        near = min(near, px * px + py * py)
    return math.sqrt(near)


@borrowing()
def nearest_side(
    fits: NoFits, k: int, dx: float, dy: float, reach: float
) -> tuple[float, float, float]:
    """Side of no-fit polygon ``k`` that is nearest to (dx, dy): unit normal, and distance along it.

    Infinite distance where none is within ``reach``.
    """
    around, edge = fits.around, fits.edge
    if (
        dx <= around[k, 0] - reach
        or dx >= around[k, 2] + reach
        or dy <= around[k, 1] - reach
        or dy >= around[k, 3] + reach
    ):
        return 1.0, 0.0, math.inf
    least, nearest = reach * reach, -1
    for e in range(fits.start[k], fits.start[k + 1]):
        px, py = edge[0, e] - dx, edge[1, e] - dy
        ux, uy = edge[2, e] - edge[0, e], edge[3, e] - edge[1, e]
        along = min(max(-(px * ux + py * uy) * fits.inverse[e], 0.0), 1.0)
        px, py = px + along * ux, py + along * uy
        square = px * px + py * py
        if square < least:
            least, nearest = square, e
    if nearest < 0:
        return 1.0, 0.0, math.inf
    long = math.sqrt(fits.inverse[nearest])
    ux = (edge[1, nearest] - edge[3, nearest]) * long
    uy = (edge[2, nearest] - edge[0, nearest]) * long
    return ux, uy, (edge[0, nearest] - dx) * ux + (edge[1, nearest] - dy) * uy


@borrowing()
def overlap(fits: NoFits, a: int, b: int, dx: float, dy: float) -> float:
    """How much outline ``a`` moved by (dx, dy) overlaps ``b``; 0 if and only if it does not.

    The root of the depth, so that one deep overlap counts less than many shallow ones, by which
    nothing is won.
    """
    k = a * len(fits.size) + b
    found = depth(fits, k, dx, dy)
    if found <= fits.contact:
        return 0.0
    return float(math.sqrt(found) * fits.scale[k])
