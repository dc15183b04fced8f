"""Kernels that link the ends of pieces of line which meet, and follow the links."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.repair.cell_kernel import TINY_MM, place_of

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

BACK_COSINE = -0.985
"""Ends that turn back further than this, by 170 degrees, are those of two lines side by side."""

CROWD = 64
"""Ends near one another among which no two are looked for that coincide."""


@njit(cache=True)
def linked(
    points: FloatArray, outward: FloatArray, kind: IntArray, reach: float, straight: float
) -> tuple[IntArray, BoolArray]:
    """For all ends of pieces: the end that it goes on with, or -1; and whether the line ends there.

    Ends 2 i and 2 i + 1 belong to piece i. A line goes on where exactly two ends coincide or,
    where none do, exactly two are within ``reach``, and both are of one kind; it ends where it
    does not go on or turns by more than the cosine ``straight`` tells.
    """
    n = len(points)
    size = 16
    while size < 2 * n:
        size *= 2
    width = 4.0 * reach
    heads = np.full(size, -1, np.int64)
    after = np.empty(n, np.int64)
    for e in range(n):
        i, j = np.floor(points[e, 0] / width), np.floor(points[e, 1] / width)
        place = place_of(0, int(i), int(j), size - 1)
        after[e] = heads[place]
        heads[place] = e
    meets = np.full(n, -1, np.int64)
    for end in range(n):
        x, y = points[end, 0], points[end, 1]
        exact, exact_count, near, near_count = -1, 0, -1, 0
        for i in range(int(np.floor((x - reach) / width)), int(np.floor((x + reach) / width)) + 1):
            for j in range(
                int(np.floor((y - reach) / width)), int(np.floor((y + reach) / width)) + 1
            ):
                other = heads[place_of(0, i, j, size - 1)]
                while other >= 0 and exact_count < 2 and near_count < CROWD:
                    apart = np.hypot(points[other, 0] - x, points[other, 1] - y)
                    if other != end and apart <= reach:
                        near_count += other != near
                        near = other
                        if apart <= TINY_MM:
                            exact_count += other != exact
                            exact = other
                    other = after[other]
        if exact_count == 1:
            meets[end] = exact
        elif exact_count == 0 and near_count == 1:
            meets[end] = near
    partner = np.full(n, -1, np.int64)
    sharp = np.ones(n, np.bool_)
    for e in range(n):
        f = meets[e]
        if f < 0 or meets[f] != e:
            continue
        along = -(outward[e, 0] * outward[f, 0] + outward[e, 1] * outward[f, 1])
        if kind[e >> 1] == kind[f >> 1] and along > BACK_COSINE:
            partner[e] = f
            sharp[e] = along < straight
    return partner, sharp


@njit(cache=True)
def chained(partner: IntArray, sharp: BoolArray) -> tuple[IntArray, BoolArray, IntArray]:
    """Follow the links: pieces in the order of their chains, which are backwards, chains' starts.

    A chain begins at an open end; a ring at a sharp corner, if it has one.
    """
    n = len(partner) >> 1
    seen = np.zeros(n, np.bool_)
    pieces = np.empty(n, np.int64)
    back = np.empty(n, np.bool_)
    starts = np.empty(n + 1, np.int64)
    chains = 0
    count = 0
    for turn in range(3):
        for e in range(2 * n):
            if seen[e >> 1] or (turn == 0 and partner[e] >= 0) or (turn == 1 and not sharp[e]):
                continue
            starts[chains] = count
            chains += 1
            entry = e
            while entry >= 0 and not seen[entry >> 1]:
                seen[entry >> 1] = True
                pieces[count] = entry >> 1
                back[count] = entry % 2 == 1
                count += 1
                entry = partner[entry ^ 1]
    starts[chains] = count
    return pieces, back, starts[: chains + 1]
