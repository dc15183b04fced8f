"""Compiled loops of dithering: error diffusion, and the making of a blue noise mask."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

BELL_REACH = 9
"""How far a neighbourhood is counted: beyond six widths nothing is left of it."""


@njit(cache=True)
def diffuse(
    tone: FloatArray, inside: BoolArray, weights: FloatArray, reach: int, serpentine: bool
) -> BoolArray:
    """Set dots, and hand what each has too much or too little on to its neighbours.

    Args:
        tone: wanted share of dots, 0 to 1, shape (rows, columns).
        inside: where dots may be set; nothing is handed on to other places.
        weights: shares handed on, shape (rows below + 1, 2 · reach + 1), the dot itself in the
            middle of row 0.
        reach: how far to the side they go.
        serpentine: every other row runs from right to left, with the weights mirrored.

    """
    rows, columns = tone.shape
    depth = weights.shape[0]
    value = tone.copy()
    dots = np.zeros((rows, columns), dtype=np.bool_)
    for i in range(rows):
        back = serpentine and i % 2 == 1
        for k in range(columns):
            j = columns - 1 - k if back else k
            if not inside[i, j]:
                continue
            # an error of the roundings must not decide a tie
            dot = value[i, j] > 0.5 - 1e-9
            dots[i, j] = dot
            error = value[i, j] - (1.0 if dot else 0.0)
            for down in range(min(depth, rows - i)):
                for side in range(-reach, reach + 1):
                    weight = weights[down, side + reach]
                    to = j - side if back else j + side
                    if weight != 0.0 and 0 <= to < columns:
                        value[i + down, to] += weight * error
    return dots


@njit(cache=True)
def void_and_cluster(first: BoolArray, bell: FloatArray) -> IntArray:
    """Rank of every place of a square mask (Ulichney 1993, void and cluster, phases I to III).

    ``first`` is a random pattern with less than half of its places set; ``bell`` the weight of
    one place's neighbourhood, on the same square and wrapped round its edges.
    """
    size = first.shape[0]
    pattern = first.copy()
    crowd = np.zeros((size, size))
    for i in range(size):
        for j in range(size):
            if pattern[i, j]:
                _add(crowd, bell, i, j, 1.0)
    while True:
        i, j = _extreme(crowd, pattern, True)
        pattern[i, j] = False
        _add(crowd, bell, i, j, -1.0)
        k, m = _extreme(crowd, pattern, False)
        pattern[k, m] = True
        _add(crowd, bell, k, m, 1.0)
        if k == i and m == j:
            break
    rank = np.zeros((size, size), dtype=np.int64)
    start = pattern.copy()
    start_crowd = crowd.copy()
    ones = int(pattern.sum())
    for r in range(ones - 1, -1, -1):
        i, j = _extreme(crowd, pattern, True)
        pattern[i, j] = False
        _add(crowd, bell, i, j, -1.0)
        rank[i, j] = r
    pattern, crowd = start, start_crowd
    # the largest void among the set is the tightest cluster of the unset: phase III is the same
    for r in range(ones, size * size):
        i, j = _extreme(crowd, pattern, False)
        pattern[i, j] = True
        _add(crowd, bell, i, j, 1.0)
        rank[i, j] = r
    return rank


@njit(cache=True)
def _add(crowd: FloatArray, bell: FloatArray, i: int, j: int, sign: float) -> None:
    size = crowd.shape[0]
    reach = min(BELL_REACH, size // 2 - 1)
    for down in range(-reach, reach + 1):
        for side in range(-reach, reach + 1):
            crowd[(i + down) % size, (j + side) % size] += sign * bell[down % size, side % size]


@njit(cache=True)
def _extreme(crowd: FloatArray, pattern: BoolArray, cluster: bool) -> tuple[int, int]:
    """Place of the tightest cluster among the set, or of the largest void among the unset."""
    size = crowd.shape[0]
    best = -np.inf if cluster else np.inf
    at_i = at_j = 0
    for i in range(size):
        for j in range(size):
            if pattern[i, j] != cluster:
                continue
            if (crowd[i, j] > best + 1e-9) if cluster else (crowd[i, j] < best - 1e-9):
                best = crowd[i, j]
                at_i, at_j = i, j
    return at_i, at_j
