"""Kernels that keep every stretch of a line once: which lie on one carrier, and the sweep.

A carrier is a straight line, or a circle, on which stretches [low, high] lie. The sweep over all
ends of a carrier's stretches with a heap of those that are open takes n log n steps, however many
lie over one another (the sweep line of M. I. Shamos and D. Hoey, "Geometric intersection
problems", 17th Symposium on Foundations of Computer Science, 1976, in one dimension).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.repair.cell_kernel import NO_END, TINY_MM, place_of

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@njit(cache=True)
def families(
    angle: FloatArray, order: IntArray, length: FloatArray, gap: float
) -> tuple[IntArray, IntArray]:
    """Number of the family of each line, -1 being none, and each family's longest line.

    ``order`` sorts the lines by ``angle``; two that follow within ``gap`` are of one family.
    """
    family = np.empty(len(order), np.int64)
    longest = np.empty(len(order), np.int64)
    count = 0
    for k in range(len(order)):
        i = order[k]
        if k == 0 or angle[i] - angle[order[k - 1]] > gap:
            longest[count] = i
            count += 1
        elif length[i] > length[longest[count - 1]]:
            longest[count - 1] = i
        family[i] = count - 1
    return family, longest[:count]


@njit(cache=True)
def grouped(order: IntArray, group: IntArray, count: int) -> IntArray:
    """Sort ``order`` by group and leave it as it is within each (a counting sort)."""
    place = np.zeros(count + 1, np.int64)
    for k in range(len(order)):
        place[group[order[k]] + 1] += 1
    for g in range(count):
        place[g + 1] += place[g]
    out = np.empty(len(order), np.int64)
    for k in range(len(order)):
        i = order[k]
        out[place[group[i]]] = i
        place[group[i]] += 1
    return out


@njit(cache=True)
def carriers(
    family: IntArray, offset: FloatArray, order: IntArray, gap: float
) -> tuple[IntArray, int]:
    """Number of the carrier of each line, and how many there are.

    ``order`` sorts by family, then by offset. A carrier is at most a few gaps wide, so that lines
    that lie ever so little beside one another do not add up to a wide one.
    """
    carrier = np.empty(len(order), np.int64)
    count = 0
    first = 0.0
    for k in range(len(order)):
        i = order[k]
        if k > 0:
            before = order[k - 1]
            apart = offset[i] - offset[before] > gap or offset[i] - first > 4.0 * gap
        if k == 0 or family[i] != family[before] or apart:
            first = offset[i]
            count += 1
        carrier[i] = count - 1
    return carrier, count


@njit(cache=True)
def circles(arcs: FloatArray, order: IntArray, reach: float) -> tuple[IntArray, IntArray]:
    """Number of the circle of each arc (cx, cy, r), and the arc that each circle was taken from.

    In ``order`` an arc joins the first circle that lies within ``reach`` of its own all round, or
    is taken for one itself; so a tolerance does not add up.
    """
    n = len(arcs)
    size = 16
    while size < 2 * n:
        size *= 2
    width = 4.0 * reach
    heads = np.full(size, -1, np.int64)
    after = np.empty(n, np.int64)
    circle = np.full(n, -1, np.int64)
    taken = np.empty(n, np.int64)
    count = 0
    for a in order:
        x, y, r = arcs[a, 0], arcs[a, 1], arcs[a, 2]
        low, high = (arcs[a, :3] - reach) / width, (arcs[a, :3] + reach) / width
        for h in range(int(np.floor(low[2])), int(np.floor(high[2])) + 1):
            for i in range(int(np.floor(low[0])), int(np.floor(high[0])) + 1):
                for j in range(int(np.floor(low[1])), int(np.floor(high[1])) + 1):
                    c = heads[place_of(h, i, j, size - 1)]
                    while c >= 0:
                        other = arcs[taken[c]]
                        apart = np.hypot(other[0] - x, other[1] - y) + abs(other[2] - r)
                        if apart <= reach and (circle[a] < 0 or c < circle[a]):
                            circle[a] = c
                        c = after[c]
        if circle[a] < 0:
            h, i, j = np.floor(r / width), np.floor(x / width), np.floor(y / width)
            place = place_of(int(h), int(i), int(j), size - 1)
            circle[a] = count
            taken[count] = a
            after[count] = heads[place]
            heads[place] = count
            count += 1
    return circle, taken[:count]


@njit(cache=True)
def _push(heap: IntArray, size: int, item: int, rank: IntArray) -> None:
    k = size
    while k > 0:
        parent = (k - 1) >> 1
        if rank[heap[parent]] <= rank[item]:
            break
        heap[k] = heap[parent]
        k = parent
    heap[k] = item


@njit(cache=True)
def _pop(heap: IntArray, size: int, rank: IntArray) -> None:
    item = heap[size - 1]
    k = 0
    while True:
        child = 2 * k + 1
        if child >= size - 1:
            break
        if child + 1 < size - 1 and rank[heap[child + 1]] < rank[heap[child]]:
            child += 1
        if rank[heap[child]] >= rank[item]:
            break
        heap[k] = heap[child]
        k = child
    heap[k] = item


@njit(cache=True)
def swept(
    carrier: IntArray, low: FloatArray, high: FloatArray, rank: IntArray, order: IntArray
) -> tuple[IntArray, FloatArray, IntArray]:
    """Give every place of a carrier to the lowest rank of the stretches that lie there.

    ``order`` sorts by carrier, then by ``low``. Returns pieces: whose, from, to, and the ends
    of other stretches that bound them (2 i for the low end of stretch i, 2 i + 1 for its high
    one, ``NO_END`` where the piece ends with its own stretch).
    """
    n = len(order)
    of = np.empty(2 * n, np.int64)
    ends = np.empty((2 * n, 2), np.float64)
    bounds = np.empty((2 * n, 2), np.int64)
    heap = np.empty(n + 1, np.int64)
    count = 0
    start = 0
    while start < n:
        stop = start + 1
        while stop < n and carrier[order[stop]] == carrier[order[start]]:
            stop += 1
        size = 0
        running = -1
        x = 0.0
        bound = NO_END
        k = start
        while k < stop or size > 0:
            until = low[order[k]] if k < stop else np.inf
            while size > 0:
                top = heap[0]
                if high[top] <= x:
                    _pop(heap, size, rank)
                    size -= 1
                    continue
                if top != running:
                    of[count] = top
                    ends[count, 0] = x
                    bounds[count, 0] = NO_END if low[top] == x else bound
                    bounds[count, 1] = NO_END
                    count += 1
                    running = top
                if high[top] > until:
                    ends[count - 1, 1] = until
                    x = until
                    break
                x = high[top]
                ends[count - 1, 1] = x
                bound = 2 * top + 1
                running = -1
            if k < stop:
                new = order[k]
                x = until
                if size > 0 and running >= 0 and rank[new] < rank[running]:
                    bounds[count - 1, 1] = 2 * new
                    running = -1
                _push(heap, size, new, rank)
                size += 1
                k += 1
        start = stop
    return of[:count], ends[:count], bounds[:count]


@njit(cache=True)
def rounded_off(
    of: IntArray,
    ends: FloatArray,
    bounds: IntArray,
    low: FloatArray,
    high: FloatArray,
    least: FloatArray,
) -> int:
    """Leave ends alone that would move by ``least`` or less, and pieces out that are no longer.

    Works in place and returns how many pieces are left.
    """
    count = 0
    for k in range(len(of)):
        a, b = ends[k, 0], ends[k, 1]
        bound_a, bound_b = bounds[k, 0], bounds[k, 1]
        i = of[k]
        if a - low[i] <= least[i]:
            a, bound_a = low[i], NO_END
        if high[i] - b <= least[i]:
            b, bound_b = high[i], NO_END
        if b - a <= least[i]:
            continue
        of[count], ends[count, 0], ends[count, 1] = i, a, b
        bounds[count, 0], bounds[count, 1] = bound_a, bound_b
        count += 1
    return count


@njit(cache=True)
def without_runs(
    ends: FloatArray, bounds: IntArray, rows: IntArray, runs: FloatArray, order: IntArray
) -> tuple[IntArray, FloatArray, IntArray]:
    """Take stretches out of pieces; returns the piece, from, to and bounds of every one left.

    ``rows`` (piece, numbers of the bounding ends) and ``runs`` (from, to within the piece) are
    sorted by ``order``: by piece, then by where they begin.
    """
    most = len(ends) + len(runs)
    of = np.empty(most, np.int64)
    left = np.empty((most, 2), np.float64)
    left_bounds = np.empty((most, 2), np.int64)
    count = 0
    k = 0
    for p in range(len(ends)):
        x, bound = ends[p, 0], bounds[p, 0]
        while True:
            is_last = k >= len(order) or rows[order[k], 0] != p
            until = ends[p, 1] if is_last else ends[p, 0] + runs[order[k], 0]
            if until - x > TINY_MM:
                of[count], left[count, 0], left[count, 1] = p, x, until
                left_bounds[count, 0] = bound
                left_bounds[count, 1] = bounds[p, 1] if is_last else rows[order[k], 1]
                count += 1
            if is_last:
                break
            x, bound = ends[p, 0] + runs[order[k], 1], rows[order[k], 2]
            k += 1
    return of[:count], left[:count], left_bounds[:count]
