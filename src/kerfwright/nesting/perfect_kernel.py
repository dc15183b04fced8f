"""The compiled search for a packing of rectangles with hardly any waste.

Branch and bound over the skyline: in the corner of the lowest gap lies one of the rectangles that
are left, or the gap stays empty up to its lower neighbour (N. Lesh, J. Marks, A. McMahon &
M. Mitzenmacher 2004, *Exhaustive approaches to 2D rectangular perfect packings*, Information
Processing Letters 90). A branch ends when gaps that nothing can fill waste more than there is to
spare: gaps narrower than everything that is left, and gaps that no sum of sides makes up (the
subset sums of R. E. Korf 2003, *Optimal rectangle packing: initial results*).

Sizes are whole numbers. ``sizes[kind, way]`` is (width, height), (0, 0) for a way not allowed.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

IntArray = npt.NDArray[np.int64]
WordArray = npt.NDArray[np.uint64]

NOT_FOUND, FOUND, OUT_OF_WORK = 0, 1, 2

LONGEST = 4096
"""Sums of sides are reckoned up to this height of the area."""


@njit(cache=True)
def _add_shifted(sums: WordArray, into: WordArray, by: int, words: int) -> None:
    """Add to a set of heights, one bit each, those of another raised ``by`` so much."""
    far, near = by // 64, np.uint64(by % 64)
    back = np.uint64(64) - near
    for k in range(words - 1, far - 1, -1):
        raised = sums[k - far] << near
        if near > 0 and k > far:
            raised |= sums[k - far - 1] >> back
        into[k] |= raised


@njit(cache=True)
def _holds(sums: WordArray, height: int) -> bool:
    return bool((sums[height // 64] >> np.uint64(height % 64)) & np.uint64(1))


@njit(cache=True)
def _sums(sizes: IntArray, left: IntArray, top: int, sums: WordArray, new: WordArray) -> int:
    """Heights up to ``top`` that the rectangles left make up; returns the least side of them."""
    words = top // 64 + 1
    for k in range(words):
        sums[k] = 0
    sums[0] = 1
    least = top + 1
    for kind in range(len(sizes)):
        for _ in range(left[kind]):
            for k in range(words):
                new[k] = sums[k]
            for way in range(2):
                height = sizes[kind, way, 1]
                if 0 < height <= top:
                    least = min(least, height)
                    _add_shifted(sums, new, height, words)
            for k in range(words):
                sums[k] = new[k]
    return least


@njit(cache=True)
def _forced_waste(
    start: IntArray,
    level: IntArray,
    count: int,
    width: int,
    top: int,
    sums: WordArray,
    thinnest: int,
    least: int,
) -> int:
    """Area in the skyline's dips that nothing left can fill, at least."""
    waste = 0
    for k in range(count):
        last = start[k + 1] if k + 1 < count else top
        below = level[k - 1] if k > 0 else width
        above = level[k + 1] if k + 1 < count else width
        depth = min(below, above) - level[k]
        if depth <= 0:
            continue
        gap = last - start[k]
        if gap < least:
            waste += gap * depth
        elif gap <= LONGEST and not _holds(sums, gap):
            short = 1
            while not _holds(sums, gap - short):
                short += 1
            waste += short * min(depth, thinnest)
    return waste


@njit(cache=True)
def _lay(
    start: IntArray, level: IntArray, count: int, k: int, width: int, height: int, top: int
) -> int:
    """Lay a rectangle into the corner at the start of step k; returns the number of steps."""
    last = start[k + 1] if k + 1 < count else top
    if last - start[k] > height:
        for j in range(count - 1, k, -1):
            start[j + 1], level[j + 1] = start[j], level[j]
        start[k + 1], level[k + 1] = start[k] + height, level[k]
        count += 1
    level[k] += width
    kept = 0
    for j in range(1, count):
        if level[j] != level[kept]:
            kept += 1
            level[kept], start[kept] = level[j], start[j]
    return kept + 1


@njit(cache=True)
def _spare(sizes: IntArray, copies: IntArray, width: int, top: int) -> int:
    """Area that is left when everything is packed."""
    spare = width * top
    for kind in range(len(sizes)):
        way = 0 if sizes[kind, 0, 0] > 0 else 1
        spare -= copies[kind] * sizes[kind, way, 0] * sizes[kind, way, 1]
    return spare


@njit(cache=True)
def _thinnest(sizes: IntArray) -> int:
    least = 2**62
    for kind in range(len(sizes)):
        for way in range(2):
            if sizes[kind, way, 0] > 0:
                least = min(least, int(sizes[kind, way, 0]))
    return least


class _Node(NamedTuple):
    """One step of the search: the skyline before it, and what was tried there."""

    start: IntArray
    level: IntArray
    steps: IntArray
    spare: IntArray
    choice: IntArray
    laid: IntArray
    """(kind, way, x, y), kind -1 for a gap left empty."""


@njit(cache=True)
def _gap(nodes: _Node, d: int, width: int, top: int) -> tuple[int, int, int, int]:
    """The lowest step k of node d: (k, its length, its level, depth up to its neighbours)."""
    start, level, count = nodes.start[d], nodes.level[d], nodes.steps[d]
    k = 0
    for j in range(1, count):
        if level[j] < level[k]:
            k = j
    last = start[k + 1] if k + 1 < count else top
    below = level[k - 1] if k > 0 else width
    above = level[k + 1] if k + 1 < count else width
    return k, last - start[k], level[k], min(below, above) - level[k]


@njit(cache=True)
def _copy_skyline(nodes: _Node, d: int) -> None:
    # element by element: whole slices take seconds to compile
    for k in range(nodes.steps[d]):
        nodes.start[d + 1, k], nodes.level[d + 1, k] = nodes.start[d, k], nodes.level[d, k]


@njit(cache=True)
def _leave_empty(nodes: _Node, d: int, width: int, top: int) -> bool:
    """Make node d + 1 of node d with its lowest gap left empty, if enough is to spare."""
    k, gap, _, depth = _gap(nodes, d, width, top)
    if depth <= 0 or depth * gap > nodes.spare[d]:
        return False
    _copy_skyline(nodes, d)
    nodes.steps[d + 1] = _lay(
        nodes.start[d + 1], nodes.level[d + 1], nodes.steps[d], k, depth, gap, top
    )
    nodes.spare[d + 1] = nodes.spare[d] - depth * gap
    return True


@njit(cache=True)
def _lay_next(nodes: _Node, d: int, width: int, top: int, w: int, h: int) -> bool:
    """Make node d + 1 of node d with a rectangle in the lowest gap's corner, if it fits there."""
    k, gap, base, _ = _gap(nodes, d, width, top)
    if h > gap or base + w > width:
        return False
    _copy_skyline(nodes, d)
    nodes.steps[d + 1] = _lay(nodes.start[d + 1], nodes.level[d + 1], nodes.steps[d], k, w, h, top)
    nodes.spare[d + 1] = nodes.spare[d]
    return True


@njit(cache=True)
def _is_hopeless(
    nodes: _Node,
    d: int,
    area: tuple[int, int],
    sizes: IntArray,
    left: IntArray,
    thinnest: int,
    words: tuple[WordArray, WordArray],
) -> bool:
    """Whether gaps that nothing left can fill waste more than there is to spare at node d."""
    least = _sums(sizes, left, min(area[1], LONGEST), words[0], words[1])
    waste = _forced_waste(
        nodes.start[d], nodes.level[d], nodes.steps[d], area[0], area[1], words[0], thinnest, least
    )
    return bool(waste > nodes.spare[d])


@njit(cache=True)
def pack_exactly(
    sizes: IntArray, copies: IntArray, width: int, top: int, work: int
) -> tuple[int, int, IntArray]:
    """Pack every rectangle into ``width`` × ``top``.

    Returns whether that was :data:`FOUND`, proved impossible (:data:`NOT_FOUND`) or given up after
    ``work`` trials (:data:`OUT_OF_WORK`), the trials made, and rows (kind, way, x, y), kind
    -1 for gaps left empty.
    """
    n = copies.sum()
    deep = 4 * n + 4
    start = np.zeros((deep, n + 3), dtype=np.int64)
    one_each = np.zeros((3, deep), dtype=np.int64)
    nodes = _Node(
        start,
        np.zeros_like(start),
        one_each[0],
        one_each[1],
        one_each[2],
        np.zeros((deep, 4), dtype=np.int64),
    )
    nodes.steps[0], nodes.choice[0], nodes.laid[0, 0] = 1, -1, -1
    left = copies.copy()
    longest = LONGEST // 64 + 1
    words = (np.zeros(longest, dtype=np.uint64), np.zeros(longest, dtype=np.uint64))
    nodes.spare[0] = _spare(sizes, copies, width, top)
    thinnest = _thinnest(sizes)
    d, done, trials = 0, 0, 0
    if nodes.spare[0] < 0:
        d = -1
    while d >= 0:
        if done == n:
            return FOUND, trials, nodes.laid[:d]
        if nodes.laid[d, 0] >= 0:
            left[nodes.laid[d, 0]] += 1
            done -= 1
            nodes.laid[d, 0] = -1
        nodes.choice[d] += 1
        option = nodes.choice[d]
        if option > 2 * len(sizes):
            d -= 1
            continue
        if option == 2 * len(sizes):
            went = _leave_empty(nodes, d, width, top)
        else:
            kind, way = option // 2, option % 2
            w, h = sizes[kind, way, 0], sizes[kind, way, 1]
            if left[kind] == 0 or w == 0 or not _lay_next(nodes, d, width, top, w, h):
                continue
            trials += 1
            if trials > work:
                return OUT_OF_WORK, trials, nodes.laid[:0]
            left[kind] -= 1
            went = not _is_hopeless(nodes, d + 1, (width, top), sizes, left, thinnest, words)
            if went:
                k, _, base, _ = _gap(nodes, d, width, top)
                nodes.laid[d, 0], nodes.laid[d, 1] = kind, way
                nodes.laid[d, 2], nodes.laid[d, 3] = base, nodes.start[d, k]
                done += 1
            else:
                left[kind] += 1
        if went:
            d += 1
            nodes.choice[d] = -1
            nodes.laid[d, 0] = -1
    return NOT_FOUND, trials, nodes.laid[:0]
