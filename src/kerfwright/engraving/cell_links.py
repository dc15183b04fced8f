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

WORK = 10_000_000
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
    reach = int(max(1, min(count, WORK // (4 * count * count * most * most))))
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


@njit(cache=True)
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


@njit(cache=True)
def _best_ways(order: IntArray, ends: FloatArray, axes: FloatArray) -> tuple[IntArray, float]:
    """Way of entering every block in turn that makes the travel between them least."""
    count, ways = len(order), ends.shape[1]
    came = np.zeros((count, ways), dtype=np.int64)
    cost = np.zeros(ways)
    for k in range(1, count):
        new = np.full(ways, np.inf)
        for w in range(ways):
            x, y = ends[order[k], w, 0], ends[order[k], w, 1]
            for u in range(ways):
                last = order[k - 1]
                total = cost[u] + _travel_s(ends[last, u, 2], ends[last, u, 3], x, y, axes)
                if total < new[w]:
                    new[w] = total
                    came[k, w] = u
        cost = new
    choice = np.zeros(count, dtype=np.int64)
    choice[count - 1] = np.argmin(cost)
    for k in range(count - 1, 0, -1):
        choice[k - 1] = came[k, choice[k]]
    return choice, float(cost.min())


@njit(cache=True)
def _improved(order: IntArray, ends: FloatArray, axes: FloatArray, reach: int) -> IntArray:
    """Turn stretches round and move blocks, no further than ``reach``, while travel gets less."""
    count = len(order)
    _, best = _best_ways(order, ends, axes)
    for _ in range(4):
        before = best
        for i in range(count - 1):
            for j in range(i + 1, min(i + reach + 1, count)):
                for kind in range(3):
                    trial = order.copy()
                    if kind == 0:
                        trial[i : j + 1] = order[i : j + 1][::-1]
                    elif kind == 1:
                        trial[i:j] = order[i + 1 : j + 1]
                        trial[j] = order[i]
                    else:
                        trial[i + 1 : j + 1] = order[i:j]
                        trial[i] = order[j]
                    _, total = _best_ways(trial, ends, axes)
                    if total < best - 1e-9:
                        order, best = trial, total
        if best >= before - 1e-9:
            break
    return order
