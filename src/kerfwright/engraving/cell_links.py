"""The order of blocks of engraving, and at which end each is entered.

A block is burned in one go and can be entered in a few ways, each with its own exit. The order
starts with the nearest entry each time and is improved by turning stretches of it round and by
moving blocks (2-opt, Croes 1958; or-opt, Or 1976); for each order the best entry of every block
is found exactly, block by block (Bellman 1957).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numba import njit

from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import travel_speed_mm_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveArray, MoveKind, Toolpath, join, moves_along

WORK = 4_000_000
"""Steps that improving an order may take; what is left of it limits how far blocks are moved."""


def order_blocks(blocks: Sequence[Sequence[Toolpath]], machine: Machine) -> list[tuple[int, int]]:
    """Block and way of entering it, in the order of burning.

    ``blocks`` has for every block its toolpaths, one for each way of entering it. The order is
    the same at every run.
    """
    if not blocks:
        return []
    most = max(len(ways) for ways in blocks)
    ends = np.empty((len(blocks), most, 4))
    for block, ways in enumerate(blocks):
        for way in range(most):
            toolpath = ways[min(way, len(ways) - 1)]
            ends[block, way] = (*toolpath.start_mm, *toolpath.end_mm)
    limits = machine.travel
    axes = np.array([*limits.speed_mm_s, *limits.acceleration_mm_s2])
    order = _nearest_first(ends)
    count = len(blocks)
    reach = int(max(1.0, min(count, np.sqrt(WORK / (6.0 * count * most * most)))))
    order = _improved(order, ends, axes, reach)
    choice, _ = _best_ways(order, ends, axes)
    return [
        (int(block), min(int(way), len(blocks[block]) - 1))
        for block, way in zip(order, choice, strict=True)
    ]


def linked(
    toolpaths: Sequence[Toolpath], machine: Machine
) -> tuple[Toolpath, list[tuple[int, int]]]:
    """One toolpath of several with travel between, and which of its moves belong to each."""
    if not toolpaths:
        return Toolpath(join([])), []
    speed = travel_speed_mm_s(machine)
    pieces: list[MoveArray] = []
    spans: list[tuple[int, int]] = []
    at = 0
    for number, toolpath in enumerate(toolpaths):
        if number:
            pieces.append(
                moves_along(
                    np.array([toolpath.start_mm]),
                    kind=MoveKind.TRAVEL,
                    speed_mm_s=speed,
                    power=0.0,
                    source=-1,
                )
            )
            at += 1
        pieces.append(toolpath.moves)
        spans.append((at, at + len(toolpath)))
        at += len(toolpath)
    return Toolpath(join(pieces), toolpaths[0].start_mm), spans


def _nearest_first(ends: FloatArray) -> IntArray:
    """From the lowest, leftmost entry on, always to the nearest entry left."""
    left = np.ones(len(ends), dtype=bool)
    at = ends[:, :, :2].reshape(-1, 2).min(axis=0)
    order = []
    for _ in range(len(ends)):
        away = np.hypot(ends[:, :, 0] - at[0], ends[:, :, 1] - at[1])
        away[~left] = np.inf
        block, way = divmod(int(np.argmin(away)), ends.shape[1])
        left[block] = False
        order.append(block)
        at = ends[block, way, 2:]
    return np.array(order, dtype=np.int64)


@njit(cache=True, nogil=True)
def _travel_s(x0: float, y0: float, x1: float, y1: float, axes: FloatArray) -> float:
    """Seconds from rest to rest by the slower axis."""
    longest = 0.0
    for axis in range(2):
        distance = abs(x1 - x0) if axis == 0 else abs(y1 - y0)
        speed, acceleration = axes[axis], axes[2 + axis]
        if distance < speed * speed / acceleration:
            seconds = 2.0 * np.sqrt(distance / acceleration)
        else:
            seconds = distance / speed + speed / acceleration
        longest = max(longest, seconds)
    return longest


@njit(cache=True, nogil=True)
def _through(
    cost: FloatArray, last: int, block: int, ends: FloatArray, axes: FloatArray
) -> tuple[FloatArray, IntArray]:
    """Travel up to every way of entering ``block``, and by which way of ``last`` that is had.

    ``cost`` is the travel up to every way of entering the block before it, ``last``.
    """
    ways = ends.shape[1]
    new = np.full(ways, np.inf)
    came = np.zeros(ways, dtype=np.int64)
    for w in range(ways):
        x, y = ends[block, w, 0], ends[block, w, 1]
        for u in range(ways):
            total = cost[u] + _travel_s(ends[last, u, 2], ends[last, u, 3], x, y, axes)
            if total < new[w]:
                new[w] = total
                came[w] = u
    return new, came


@njit(cache=True, nogil=True)
def _best_ways(order: IntArray, ends: FloatArray, axes: FloatArray) -> tuple[IntArray, float]:
    """Way of entering every block in turn that makes the travel between them least."""
    count, ways = len(order), ends.shape[1]
    came = np.zeros((count, ways), dtype=np.int64)
    cost = np.zeros(ways)
    for k in range(1, count):
        cost, came[k] = _through(cost, order[k - 1], order[k], ends, axes)
    choice = np.zeros(count, dtype=np.int64)
    choice[count - 1] = np.argmin(cost)
    for k in range(count - 1, 0, -1):
        choice[k - 1] = came[k, choice[k]]
    return choice, float(cost.min())


@njit(cache=True, nogil=True)
def _after_s(order: IntArray, ends: FloatArray, axes: FloatArray) -> FloatArray:
    """Travel from every way of every block in turn to the end, shape (blocks, ways)."""
    count, ways = len(order), ends.shape[1]
    after = np.zeros((count, ways))
    for k in range(count - 2, -1, -1):
        here, block = order[k], order[k + 1]
        for u in range(ways):
            x, y = ends[here, u, 2], ends[here, u, 3]
            least = np.inf
            for w in range(ways):
                least = min(
                    least,
                    _travel_s(x, y, ends[block, w, 0], ends[block, w, 1], axes) + after[k + 1, w],
                )
            after[k, u] = least
    return after


@njit(cache=True, nogil=True)
def _changed(order: IntArray, i: int, j: int, kind: int) -> IntArray:
    """The blocks from ``i`` to ``j`` turned round, or the first moved last, or the last first."""
    if kind == 0:
        return order[i : j + 1][::-1].copy()
    return np.roll(order[i : j + 1], -1 if kind == 1 else 1)


@njit(cache=True, nogil=True)
def _improved(order: IntArray, ends: FloatArray, axes: FloatArray, reach: int) -> IntArray:
    """Turn stretches round and move blocks, no further than ``reach``, while travel gets less.

    Travel before a stretch and after it is known by every way, so that only the stretch is looked
    at again.
    """
    count, ways = len(order), ends.shape[1]
    order = order.copy()
    _, best = _best_ways(order, ends, axes)
    after = _after_s(order, ends, axes)
    for _ in range(4):
        was = best
        before = np.zeros(ways)  # travel up to every way of entering block i − 1
        for i in range(count - 1):
            if i > 1:
                before, _ = _through(before, order[i - 2], order[i - 1], ends, axes)
            for j in range(i + 1, min(i + reach + 1, count)):
                for kind in range(3):
                    stretch = _changed(order, i, j, kind)
                    cost = before
                    for k in range(len(stretch)):
                        if i + k > 0:
                            last = stretch[k - 1] if k > 0 else order[i - 1]
                            cost, _ = _through(cost, last, stretch[k], ends, axes)
                    if j + 1 < count:
                        cost, _ = _through(cost, stretch[-1], order[j + 1], ends, axes)
                        cost = cost + after[j + 1]
                    if cost.min() < best - 1e-9:
                        best = float(cost.min())
                        order[i : j + 1] = stretch
                        after = _after_s(order, ends, axes)
        if best >= was - 1e-9:
            break
    return order
