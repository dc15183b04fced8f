"""The compiled part of packing rectangles: a skyline that grows to the right.

The skyline tells for every height of the sheet how far to the right rectangles reach there. The
next rectangle goes where it reaches least far, chosen by how well it fits that gap (E. K. Burke,
G. Kendall & G. Whitwell 2004, *A new placement heuristic for the orthogonal stock-cutting problem*,
Operations Research 52; with the fitness of L. Wei et al. 2011, *A skyline heuristic for the 2D
rectangular packing and strip packing problems*, European Journal of Operational Research 215).

Sizes in mm or any unit. ``sizes[kind, way]`` is (width, height) of a kind laid one way or the
other; a width of 0 stands for a way that is not allowed.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]

EVEN = 1e-7
"""Lengths this close are the same."""


@njit(cache=True)
def _lowest(level: FloatArray, count: int) -> int:
    best = 0
    for k in range(1, count):
        if level[k] < level[best] - EVEN:
            best = k
    return best


@njit(cache=True)
def _merge(start: FloatArray, level: FloatArray, count: int) -> int:
    """Join neighbouring steps of the same level; returns how many are left."""
    kept = 0
    for k in range(1, count):
        if abs(level[k] - level[kept]) <= EVEN:
            level[kept] = max(level[kept], level[k])
        else:
            kept += 1
            level[kept], start[kept] = level[k], start[k]
    return kept + 1


@njit(cache=True)
def laid_on(
    start: FloatArray,
    level: FloatArray,
    count: int,
    k: int,
    y: float,
    width: float,
    height: float,
    top: float,
) -> int:
    """Lay a rectangle on step k at height y; returns the new number of steps."""
    first = start[k]
    last = start[k + 1] if k + 1 < count else top
    base = level[k]
    pieces = np.empty((3, 2))
    n = 0
    if y - first > EVEN:
        pieces[n, 0], pieces[n, 1] = first, base
        n += 1
    pieces[n, 0], pieces[n, 1] = y, base + width
    n += 1
    if last - (y + height) > EVEN:
        pieces[n, 0], pieces[n, 1] = y + height, base
        n += 1
    for j in range(count - 1, k, -1):
        start[j + n - 1], level[j + n - 1] = start[j], level[j]
    for j in range(n):
        start[k + j], level[k + j] = pieces[j, 0], pieces[j, 1]
    return _merge(start, level, count + n - 1)


@njit(cache=True)
def _fitness(
    width: float, height: float, gap: float, base: float, below: float, above: float
) -> float:
    """How well a rectangle fits a gap: it fills it, and ends flush with its neighbours."""
    fills = abs(gap - height) <= EVEN
    end = base + width
    flush = (abs(end - below) <= EVEN) + (abs(end - above) <= EVEN)
    if fills:
        return 4.0 + flush
    return 2.0 * min(flush, 1) + height / gap


@njit(cache=True)
def decoded(
    order: IntArray,
    sizes: FloatArray,
    area: tuple[float, float],
    spots: FloatArray,
) -> tuple[float, float]:
    """Lay rectangles of the kinds in ``order`` down, the earlier of equally fitting ones first.

    Writes (way or -1, x, y) of each into ``spots``, shape (n, 3). Returns the area laid down and
    how far to the right it reaches.
    """
    n = len(order)
    start, level = np.zeros(n + 3), np.zeros(n + 3)
    count, left = 1, n
    used, reach = 0.0, 0.0
    seen = np.full(len(sizes), -1)
    spots[:, 0] = -1.0
    step = 0
    while left > 0:
        step += 1
        k = _lowest(level, count)
        base = level[k]
        if base >= area[0] - EVEN:
            break
        last = start[k + 1] if k + 1 < count else area[1]
        gap = last - start[k]
        below = level[k - 1] if k > 0 else area[0]
        above = level[k + 1] if k + 1 < count else area[0]
        best, best_i, best_way = -1.0, -1, 0
        for i in range(n):
            kind = order[i]
            if spots[i, 0] >= 0.0 or seen[kind] == step:
                continue
            seen[kind] = step
            for way in range(2):
                w, h = sizes[kind, way, 0], sizes[kind, way, 1]
                if w <= 0.0 or h > gap + EVEN or base + w > area[0] + EVEN:
                    continue
                fit = _fitness(w, h, gap, base, below, above)
                if fit > best + EVEN:
                    best, best_i, best_way = fit, i, way
        if best_i < 0:
            level[k] = min(below, above)
            if count == 1:
                break
            count = _merge(start, level, count)
            continue
        w, h = sizes[order[best_i], best_way, 0], sizes[order[best_i], best_way, 1]
        y = start[k] if below >= above else last - h
        spots[best_i, 0], spots[best_i, 1], spots[best_i, 2] = best_way, base, y
        used += w * h
        reach = max(reach, base + w)
        left -= 1
        count = laid_on(start, level, count, k, y, w, h, area[1])
    return used, reach


@njit(cache=True)
def search_orders(
    order: IntArray, sizes: FloatArray, area: tuple[float, float], work: int, seed: int
) -> tuple[FloatArray, IntArray, float, float]:
    """Swap rectangles in the order ``work`` times and keep what lays down more, then shorter.

    Returns the best spots, their order, area laid down and reach.
    """
    np.random.seed(seed)  # noqa: NPY002 - the only generator that compiled code has
    n = len(order)
    best_order, current = order.copy(), order.copy()
    best, spots = np.empty((n, 3)), np.empty((n, 3))
    used, reach = decoded(order, sizes, area, best)
    best_used, best_reach = used, reach
    late = np.full((20, 2), 0.0)
    late[:, 0], late[:, 1] = used, reach
    for turn in range(work):
        i, j = np.random.randint(n), np.random.randint(n)  # noqa: NPY002
        if current[i] == current[j]:
            continue
        if np.random.random() < 0.5:  # noqa: NPY002
            current[i], current[j] = current[j], current[i]
            moved = False
        else:
            _shift(current, i, j)
            moved = True
        now_used, now_reach = decoded(current, sizes, area, spots)
        old = late[turn % 20]
        if _better(now_used, now_reach, old[0], old[1]) or _better(
            now_used, now_reach, used, reach
        ):
            used, reach = now_used, now_reach
        elif moved:
            _shift(current, j, i)
        else:
            current[i], current[j] = current[j], current[i]
        old[0], old[1] = used, reach
        if _better(used, reach, best_used + EVEN, best_reach - EVEN):
            best_used, best_reach = used, reach
            best[:], best_order[:] = spots, current
    return best, best_order, best_used, best_reach


@njit(cache=True)
def _shift(order: IntArray, i: int, j: int) -> None:
    kind = order[i]
    if i < j:
        for k in range(i, j):
            order[k] = order[k + 1]
    else:
        for k in range(i, j, -1):
            order[k] = order[k - 1]
    order[j] = kind


@njit(cache=True)
def _better(used: float, reach: float, other_used: float, other_reach: float) -> bool:
    if abs(used - other_used) > EVEN * max(1.0, math.fabs(other_used)):
        return used > other_used
    return reach <= other_reach
