"""The place on an upright or level line where a piece overlaps least.

On such a line every other piece forbids intervals, where it cuts the no-fit polygon of the two; the
way out of one, along the line, is a tent over it. Their weighted sum bends upward nowhere but at
the ends of intervals: one of these is the best place (Egeblad, Nielsen & Odgaard 2007, *Fast
neighborhood search for two- and three-dimensional nesting problems*, European Journal of
Operational Research 183; ways out along lines by Umetani et al. 2009). So the whole line is
searched at once, where samples would find such a place by luck.

All lengths in mm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits, slab_number

MOST_CROSSINGS = 64
"""Sides of one no-fit polygon that a line may cross."""


class Intervals(NamedTuple):
    """Room for a line's intervals: low and high ends, and weights.

    ``crossing``: room for where the line crosses one no-fit polygon.
    """

    low: FloatArray
    high: FloatArray
    weight: FloatArray
    crossing: FloatArray


def room_for(pieces: int) -> Intervals:
    """Room for the intervals of so many pieces."""
    count = 4 * pieces + 64
    low, high, weight = np.zeros((3, count))
    return Intervals(low, high, weight, np.zeros(MOST_CROSSINGS))


class Lying(NamedTuple):
    """What lies in the strip: each piece's turned outline and its place, as x and as y."""

    shape: IntArray
    x: FloatArray
    y: FloatArray


@borrowing()
def cross(
    fits: NoFits,
    lying: Lying,
    weight: FloatArray,
    i: int,
    s: int,
    line: tuple[int, float, float, float],
    found: Intervals,
) -> int:
    """Collect the intervals that are forbidden to piece ``i`` as outline ``s`` on a line.

    ``line``: axis along which it runs, where it lies across that, and from where to where it is
    wanted; ``weight``: shape (n,), of the other pieces. Returns how many there are.
    """
    axis, across, first, last = line
    other = 1 - axis
    along = lying.x if axis == 0 else lying.y
    beside = lying.y if axis == 0 else lying.x
    ends = found.crossing
    around, slab = fits.around, fits.slab
    n = 0
    for j in range(len(lying.shape)):
        k = s * len(fits.size) + lying.shape[j]
        at, d = along[j], across - beside[j]
        if (
            d <= around[k, other]
            or d >= around[k, 2 + other]
            or at + around[k, 2 + axis] <= first
            or at + around[k, axis] >= last
            or j == i
        ):
            continue
        q = slab_number(fits, k, other, d)
        count = 0
        for m in range(fits.slab_start[other, q], fits.slab_start[other, q + 1]):
            if slab[0, m] <= d < slab[1, m] and count < len(ends):
                end = slab[2, m] + (d - slab[0, m]) * slab[3, m]
                p = count
                while p > 0 and ends[p - 1] > end:
                    ends[p] = ends[p - 1]
                    p -= 1
                ends[p] = end
                count += 1
        for p in range(0, count - 1, 2):
            if n < len(found.low):
                found.low[n], found.high[n] = at + ends[p], at + ends[p + 1]
                found.weight[n] = weight[j]
                n += 1
    return n


@borrowing(fastmath={"reassoc", "contract", "nsz", "nnan"})
def _tents(found: Intervals, n: int, at: float) -> float:
    total = 0.0
    for m in range(n):
        out = min(at - found.low[m], found.high[m] - at)
        total += found.weight[m] * max(out, 0.0)
    return total


@borrowing()
def best_on(
    found: Intervals, n: int, first: float, last: float, contact: float, chance: float
) -> tuple[float, float]:
    """Best place from ``first`` to ``last``, and the sum of tents there.

    Sums below ``contact`` are none; among equally good places ``chance``, from 0 to 1, decides.
    """
    best, place, begin = math.inf, first, int(chance * (2 * n + 2))
    for turn in range(2 * n + 2):
        m = (begin + turn) % (2 * n + 2)
        at = first if m == 2 * n else last
        if m < n:
            at = found.low[m]
        elif m < 2 * n:
            at = found.high[m - n]
        if at < first or at > last:
            continue
        total = _tents(found, n, at)
        if total < contact:
            return at, 0.0
        if total < best:
            best, place = total, at
    return place, best


@njit(cache=True, nogil=True)
def first_free(found: Intervals, n: int, first: float, last: float, contact: float) -> float:
    """Lowest free place from ``first`` to ``last``; infinite if there is none."""
    at = first
    for m in np.argsort(found.low[:n]):
        if found.low[m] >= at - contact:
            break
        at = max(at, found.high[m])
    return at if at <= last + contact else math.inf
