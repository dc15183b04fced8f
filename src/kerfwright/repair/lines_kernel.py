"""Compiled loops over many lines at once: lengths, ends, chains, and the points of joined lines.

Lines lie one behind the other in one array of points; ``starts`` has the number of each line's
first point and, last, the number of all points.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@njit(cache=True)
def measure_lines(points: FloatArray, starts: IntArray, closed: BoolArray) -> FloatArray:
    """Length of every line, shape (n,)."""
    out = np.zeros(len(closed))
    for line in range(len(closed)):
        first, stop = starts[line], starts[line + 1]
        total = 0.0
        for i in range(first + 1, stop):
            total += math.hypot(points[i, 0] - points[i - 1, 0], points[i, 1] - points[i - 1, 1])
        if closed[line] and stop > first:
            total += math.hypot(
                points[first, 0] - points[stop - 1, 0], points[first, 1] - points[stop - 1, 1]
            )
        out[line] = total
    return out


@njit(cache=True)
def find_ends(
    points: FloatArray, starts: IntArray, numbers: IntArray, reach_mm: float
) -> tuple[FloatArray, FloatArray]:
    """Both ends of the lines ``numbers``, and unit directions from each end into its line.

    A direction is taken to the nearest point along the line that is further than ``reach_mm``
    from the end, or else to the furthest there is.
    """
    ends = np.empty((2 * len(numbers), 2))
    directions = np.zeros_like(ends)
    for k in range(len(numbers)):
        first, last = starts[numbers[k]], starts[numbers[k] + 1] - 1
        for side in range(2):
            at, step = (first, 1) if side == 0 else (last, -1)
            x, y = points[at, 0], points[at, 1]
            best = 0.0
            dx = dy = 0.0
            for i in range(1, last - first + 1):
                tx, ty = points[at + step * i, 0] - x, points[at + step * i, 1] - y
                far = math.hypot(tx, ty)
                if far > best:
                    best, dx, dy = far, tx, ty
                if far > reach_mm:
                    break
            ends[2 * k + side, 0], ends[2 * k + side, 1] = x, y
            if best > 0.0:
                directions[2 * k + side, 0] = dx / best
                directions[2 * k + side, 1] = dy / best
    return ends, directions


@njit(cache=True)
def pair_in_order(first: IntArray, second: IntArray, order: IntArray, partners: IntArray) -> None:
    """Give ends that are still free to each other, pair by pair; changes ``partners``."""
    for k in order:
        i, j = first[k], second[k]
        if partners[i] < 0 and partners[j] < 0:
            partners[i] = j
            partners[j] = i


@njit(cache=True)
def follow_partners(partners: IntArray) -> tuple[IntArray, BoolArray, IntArray, BoolArray]:
    """Follow the pairs of ends from line to line.

    Returns:
        The lines of all chains one behind the other; whether each is followed backwards; where
        each chain begins among them, and their number; whether each chain is closed. A chain
        runs in the direction of its line of the lowest number, and begins with it if closed.

    """
    count = len(partners) // 2
    lines = np.empty(count, dtype=np.int64)
    back = np.empty(count, dtype=np.bool_)
    starts = np.empty(count + 1, dtype=np.int64)
    closed = np.empty(count, dtype=np.bool_)
    seen = np.zeros(count, dtype=np.bool_)
    at = chain = 0
    for line in range(count):
        if seen[line]:
            continue
        home = 2 * line
        end = home
        ring = False
        while partners[end] >= 0:
            end = partners[end] ^ 1
            if end == home:
                ring = True
                break
        starts[chain] = at
        closed[chain] = ring
        entry = home if ring else end
        while True:
            number = entry >> 1
            lines[at] = number
            back[at] = entry % 2 == 1
            seen[number] = True
            at += 1
            entry = partners[entry ^ 1]
            if entry < 0 or seen[entry >> 1]:
                break
        chain += 1
    starts[chain] = at
    return lines, back, starts[: chain + 1].copy(), closed[:chain].copy()


@njit(cache=True)
def join_points(
    given: tuple[FloatArray, IntArray, BoolArray],
    chains: tuple[IntArray, BoolArray, IntArray, BoolArray],
    same_mm: float,
    meet: bool,
) -> tuple[FloatArray, IntArray, BoolArray, IntArray, BoolArray]:
    """Points of every chain.

    Args:
        given: points and starts of all lines, and whether each is closed already; such a line
            is a chain of its own.
        chains: as :func:`follow_partners` returns them.
        same_mm: ends closer than this are taken as one, the end of the line before.
        meet: ends meet halfway; otherwise they are linked by a straight piece.

    Returns:
        The points, their starts, whether each chain is closed, where in its chain each line
        begins, and whether the first and last point of each line were moved, shape (m, 2). A
        chain whose ends meet but that would be left with fewer than three points stays open.

    """
    points, starts, closed = given
    lines, back, chain_starts, ring = chains
    total = 0
    for k in lines:
        total += starts[k + 1] - starts[k]
    out = np.empty((total, 2))
    out_starts = np.empty(len(ring) + 1, dtype=np.int64)
    out_closed = np.empty(len(ring), dtype=np.bool_)
    offset = np.empty(len(lines), dtype=np.int64)
    moved = np.zeros((len(lines), 2), dtype=np.bool_)
    at = 0
    for chain in range(len(ring)):
        begin, stop = chain_starts[chain], chain_starts[chain + 1]
        base = at
        out_starts[chain] = base
        steps = 0
        for m in range(begin, stop):
            first, past = starts[lines[m]], starts[lines[m] + 1]
            steps += past - first - 1
            size = past - first
            skip = 0
            if m > begin and meet:
                skip = 1
                i = past - 1 if back[m] else first
                dx, dy = points[i, 0] - out[at - 1, 0], points[i, 1] - out[at - 1, 1]
                if math.hypot(dx, dy) > same_mm:
                    out[at - 1, 0] = (out[at - 1, 0] + points[i, 0]) / 2.0
                    out[at - 1, 1] = (out[at - 1, 1] + points[i, 1]) / 2.0
                    moved[m - 1, 1] = True
                    moved[m, 0] = True
            offset[m] = at - skip - base
            for j in range(skip, size):
                i = past - 1 - j if back[m] else first + j
                out[at, 0] = points[i, 0]
                out[at, 1] = points[i, 1]
                at += 1
        shut = ring[chain] and (steps >= 3 or not meet)
        if shut and meet:
            dx, dy = out[base, 0] - out[at - 1, 0], out[base, 1] - out[at - 1, 1]
            if math.hypot(dx, dy) > same_mm:
                out[base, 0] = (out[at - 1, 0] + out[base, 0]) / 2.0
                out[base, 1] = (out[at - 1, 1] + out[base, 1]) / 2.0
                moved[stop - 1, 1] = True
                moved[begin, 0] = True
            else:
                out[base, 0] = out[at - 1, 0]
                out[base, 1] = out[at - 1, 1]
            at -= 1
        out_closed[chain] = shut or (stop == begin + 1 and closed[lines[begin]])
    out_starts[len(ring)] = at
    return out[:at].copy(), out_starts, out_closed, offset, moved


@njit(cache=True)
def root_of(parent: IntArray, i: int) -> int:
    """Root of ``i`` in a forest of disjoint sets, halving the paths (Tarjan 1975)."""
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit(cache=True)
def label_clusters(count: int, first: IntArray, second: IntArray) -> IntArray:
    """Number of the cluster of every end: its lowest end, linked by pairs."""
    parent = np.arange(count)
    for k in range(len(first)):
        a, b = root_of(parent, first[k]), root_of(parent, second[k])
        if a < b:
            parent[b] = a
        else:
            parent[a] = b
    for i in range(count):
        parent[i] = root_of(parent, i)
    return parent


@njit(cache=True)
def strip_dead_ends(cluster: IntArray) -> BoolArray:
    """Which lines are left when those that lead to a free end are taken away, again and again.

    ``cluster`` has the place of every end; line i has the ends 2i and 2i + 1.
    """
    count = len(cluster) // 2
    degree = np.zeros(len(cluster), dtype=np.int64)
    # the exclusive or of the lines left at a place is the line itself where one is left
    left = np.zeros(len(cluster), dtype=np.int64)
    for end in range(len(cluster)):
        degree[cluster[end]] += 1
        left[cluster[end]] ^= end >> 1
    alive = np.ones(count, dtype=np.bool_)
    for start in range(len(cluster)):
        place = cluster[start]
        while degree[place] == 1:
            line = left[place]
            alive[line] = False
            degree[place] = 0
            a, b = cluster[2 * line], cluster[2 * line + 1]
            place = b if a == place else a
            degree[place] -= 1
            left[place] ^= line
    return alive


@njit(cache=True)
def bridge_in_order(
    pairs: tuple[IntArray, IntArray, FloatArray, FloatArray],
    order: IntArray,
    length_mm: FloatArray,
    partners: IntArray,
    share: float,
    back_deg: float,
) -> BoolArray:
    """Bridge gaps between free ends one by one; changes ``partners`` and ``length_mm``.

    ``pairs`` has the first and second end, distance and turn of each pair of ends. What hangs
    together by now is closed only over a gap ``share`` times shorter than itself, and two lines
    are linked only if the turn from one to the other is at most ``back_deg``.

    Returns:
        Which of ``order`` were bridged.

    """
    first, second, width_mm, turn_deg = pairs
    parent = np.arange(len(length_mm))
    chosen = np.zeros(len(order), dtype=np.bool_)
    for n in range(len(order)):
        k = order[n]
        i, j = first[k], second[k]
        if partners[i] >= 0 or partners[j] >= 0:
            continue
        a, b = root_of(parent, i >> 1), root_of(parent, j >> 1)
        if a == b:
            if share * width_mm[k] > length_mm[a]:
                continue
            length_mm[a] += width_mm[k]
        else:
            if turn_deg[k] > back_deg:
                continue
            length_mm[a] += width_mm[k] + length_mm[b]
            parent[b] = a
        partners[i] = j
        partners[j] = i
        chosen[n] = True
    return chosen


@njit(cache=True)
def chains_with_returns(
    lines: IntArray, back: BoolArray, chain_starts: IntArray, ring: BoolArray, node: IntArray
) -> BoolArray:
    """Which chains come to the same place twice; ``node`` has the place of every end, or -1."""
    out = np.zeros(len(ring), dtype=np.bool_)
    stamp = np.full(len(node), -1, dtype=np.int64)
    for chain in range(len(ring)):
        begin, stop = chain_starts[chain], chain_starts[chain + 1]
        for m in range(begin, stop):
            entry = 2 * lines[m] + (1 if back[m] else 0)
            at = node[entry]
            if at >= 0:
                if stamp[at] == chain:
                    out[chain] = True
                stamp[at] = chain
        if not ring[chain]:
            at = node[(2 * lines[stop - 1] + (1 if back[stop - 1] else 0)) ^ 1]
            if at >= 0 and stamp[at] == chain:
                out[chain] = True
    return out


@njit(cache=True)
def turns_back(
    points: FloatArray, first: int, stop: int, closed: bool, begin: int, same_mm: float
) -> int:
    """Number of the first point from ``begin`` on where a line runs back on itself, -1 for none.

    The shorter of the two steps at the point lies along the longer.
    """
    size = stop - first
    low, high = (0, size) if closed else (1, size - 1)
    for i in range(max(low, begin), high):
        b = first + i
        # points that all but coincide with this one say nothing of the way that the line takes
        u = v = ux = uy = vx = vy = 0.0
        for k in range(1, size if closed else i + 1):
            a = first + (i - k) % size
            ux, uy = points[a, 0] - points[b, 0], points[a, 1] - points[b, 1]
            u = math.hypot(ux, uy)
            if u > same_mm:
                break
        for k in range(1, size if closed else size - i):
            c = first + (i + k) % size
            vx, vy = points[c, 0] - points[b, 0], points[c, 1] - points[b, 1]
            v = math.hypot(vx, vy)
            if v > same_mm:
                break
        if min(u, v) <= same_mm or ux * vx + uy * vy <= 0.0:
            continue
        if abs(ux * vy - uy * vx) <= same_mm * max(u, v):
            return i
    return -1


@njit(cache=True)
def lines_that_turn_back(
    points: FloatArray, starts: IntArray, closed: BoolArray, same_mm: float
) -> BoolArray:
    """Which lines run back on themselves at a point."""
    out = np.zeros(len(closed), dtype=np.bool_)
    for line in range(len(closed)):
        first, stop = starts[line], starts[line + 1]
        out[line] = turns_back(points, first, stop, closed[line], 0, same_mm) >= 0
    return out
