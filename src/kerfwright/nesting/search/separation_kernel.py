"""Draws overlapping pieces apart, one piece at a time.

Guided local search (Voudouris & Tsang 1999) as used for placing by Egeblad, Nielsen & Odgaard
2007 (*Fast neighborhood search for two- and three-dimensional nesting problems*) and Umetani et
al. 2009: each piece moves where it overlaps least, pairs that go on overlapping weigh more and
more. New positions come from random samples and coordinate descent, as with Gardeyn, Vanden
Berghe & Wauters 2025 (arXiv:2509.13329).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing
from kerfwright.nesting.search.overlap_kernel import IntArray, Shapes, overlap

WordArray = npt.NDArray[np.uint64]

WIDE_SAMPLES = 24
"""Positions tried anywhere on the board for each move."""

NEAR_SAMPLES = 12
"""Positions tried about where the piece lies."""

DESCENTS = 3
"""The best samples are followed down to where they overlap least."""

COARSE, FINE = (0.1, 0.004), (0.008, 2e-5)
"""First and last step of every descent, and of one more from the best of their ends."""

LONGEST_DESCENT = 80
"""Steps of one descent, at most."""

HEAVIER, HEAVIEST, LIGHTER = 1.2, 2.0, 0.95
"""Factors of a pair's weight: least and greatest while it overlaps, and when it does not."""


class Field(NamedTuple):
    """Pieces on one board. The first ``len(turns)`` can be moved, the others are its walls.

    ``shape``, ``x``, ``y``: each piece's turned outline and where its origin lies. ``turns``:
    shape (movable, 2), first outline and one past the last that a piece may take. ``bare``: the
    outline to be held against walls instead of each outline. ``loss`` and ``weight``: shape (n,
    n), overlaps and their weights. ``room``: low and high corner of the board. ``random``: state
    of the random numbers. ``work``: positions tried so far.
    """

    shape: IntArray
    x: FloatArray
    y: FloatArray
    turns: IntArray
    bare: IntArray
    loss: FloatArray
    weight: FloatArray
    room: FloatArray
    random: WordArray
    work: IntArray


@borrowing()
def next_random(state: WordArray) -> float:
    """Next of uniform random numbers from 0 to 1 (xorshift64*, Vigna 2016)."""
    word = state[0]
    word ^= word >> np.uint64(12)
    word ^= word << np.uint64(25)
    word ^= word >> np.uint64(27)
    state[0] = word
    return float((word * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True, nogil=True)
def shuffled(count: int, state: WordArray) -> IntArray:
    """Return numbers below ``count`` in random order (Fisher & Yates)."""
    order = np.arange(count)
    for n in range(count - 1, 0, -1):
        k = int(next_random(state) * (n + 1))
        order[n], order[k] = order[k], order[n]
    return order


@borrowing()
def _between(shapes: Shapes, field: Field, i: int, s: int, x: float, y: float, j: int) -> float:
    t = field.shape[j]
    own = s if j < len(field.turns) else field.bare[s]
    return overlap(shapes, own, t, x - field.x[j], y - field.y[j]) if i != j else 0.0


@borrowing()
def _weighted(
    shapes: Shapes, field: Field, i: int, s: int, x: float, y: float, limit: float
) -> float:
    """Weighted overlaps of piece ``i`` as outline ``s`` at (x, y); beyond ``limit`` any number."""
    field.work[0] += 1
    box = shapes.box
    left, low = box[s, 0] + x, box[s, 1] + y
    right, high = box[s, 2] + x, box[s, 3] + y
    total = 0.0
    for j in range(len(field.shape)):
        t = field.shape[j]
        if (
            box[t, 0] + field.x[j] > right
            or box[t, 2] + field.x[j] < left
            or box[t, 1] + field.y[j] > high
            or box[t, 3] + field.y[j] < low
        ):
            continue
        total += field.weight[i, j] * _between(shapes, field, i, s, x, y, j)
        if total > limit:
            break
    return total


@borrowing()
def _span(shapes: Shapes, field: Field, s: int) -> tuple[float, float, float, float]:
    """Where an outline's origin may lie so that it does not stick out of the board."""
    box, room = shapes.box, field.room
    b = field.bare[s]
    return (
        room[0] - box[b, 0],
        room[1] - box[b, 1],
        room[2] - box[b, 2],
        room[3] - box[b, 3],
    )


@borrowing()
def _descend(
    shapes: Shapes,
    field: Field,
    i: int,
    place: tuple[int, float, float, float],
    steps: tuple[float, float],
) -> tuple[int, float, float, float]:
    """Coordinate descent with steps that grow on success and shrink on failure.

    ``place``: outline, position and value; ``steps``: the first and the last, as shares of the
    outline's size. Returns the place in the end.
    """
    s, x, y, value = place
    x_low, y_low, x_high, y_high = _span(shapes, field, s)
    step, finest = steps[0] * shapes.size[s], steps[1] * shapes.size[s]
    for _ in range(LONGEST_DESCENT):
        if value <= 0.0 or step < finest:
            break
        way = next_random(field.random)
        ux = 0.0 if way < 0.4 else step
        uy = 0.0 if 0.4 <= way < 0.8 else (-step if way >= 0.9 else step)
        better = False
        for sign in (-1.0, 1.0):
            nx = min(max(x + sign * ux, x_low), x_high)
            ny = min(max(y + sign * uy, y_low), y_high)
            found = _weighted(shapes, field, i, s, nx, ny, value)
            if found < value:
                x, y, value, better = nx, ny, found, True
                break
        step *= 1.1 if better else 0.5
    return s, x, y, value


@njit(cache=True, nogil=True)
def _best_place(
    shapes: Shapes, field: Field, i: int, now: float
) -> tuple[int, float, float, float]:
    """Outline, position and weighted overlap of the best place found for piece ``i``."""
    s_now, x_now, y_now = field.shape[i], field.x[i], field.y[i]
    first, last = field.turns[i, 0], field.turns[i, 1]
    kept = np.full((DESCENTS, 4), math.inf)
    reach = 0.5 * shapes.size[s_now]
    for n in range(WIDE_SAMPLES + NEAR_SAMPLES + 1):
        s = s_now
        if n > 0 and n <= WIDE_SAMPLES + NEAR_SAMPLES // 2:
            s = min(first + int(next_random(field.random) * (last - first)), last - 1)
        x_low, y_low, x_high, y_high = _span(shapes, field, s)
        if x_high < x_low or y_high < y_low:
            continue
        if n == 0:
            x, y = x_now, y_now
        elif n <= WIDE_SAMPLES:
            x = x_low + next_random(field.random) * (x_high - x_low)
            y = y_low + next_random(field.random) * (y_high - y_low)
        else:
            # keep the middle where it was, also under another turn
            x = x_now + 0.5 * (
                shapes.box[s_now, 0] + shapes.box[s_now, 2] - shapes.box[s, 0] - shapes.box[s, 2]
            )
            y = y_now + 0.5 * (
                shapes.box[s_now, 1] + shapes.box[s_now, 3] - shapes.box[s, 1] - shapes.box[s, 3]
            )
            x += (2.0 * next_random(field.random) - 1.0) * reach
            y += (2.0 * next_random(field.random) - 1.0) * reach
        x, y = min(max(x, x_low), x_high), min(max(y, y_low), y_high)
        value = now if n == 0 else _weighted(shapes, field, i, s, x, y, kept[DESCENTS - 1, 3])
        if value < kept[DESCENTS - 1, 3]:
            k = DESCENTS - 1
            while k > 0 and kept[k - 1, 3] > value:
                kept[k] = kept[k - 1]
                k -= 1
            kept[k, 0], kept[k, 1], kept[k, 2], kept[k, 3] = s, x, y, value
    best = (s_now, x_now, y_now, now)
    for k in range(DESCENTS):
        if kept[k, 3] == math.inf:
            break
        start = (int(kept[k, 0]), kept[k, 1], kept[k, 2], kept[k, 3])
        found = _descend(shapes, field, i, start, COARSE)
        if found[3] < best[3]:
            best = found
        if best[3] <= 0.0:
            return best
    return _descend(shapes, field, i, best, FINE)


@borrowing()
def measure(shapes: Shapes, field: Field) -> float:
    """Fill in every overlap; returns their sum, each pair once."""
    total = 0.0
    for i in range(len(field.turns)):
        for j in range(i + 1, len(field.shape)):
            found = _between(shapes, field, i, field.shape[i], field.x[i], field.y[i], j)
            field.loss[i, j] = field.loss[j, i] = found
            total += found
    return total


@borrowing()
def _move(shapes: Shapes, field: Field, i: int, s: int, x: float, y: float) -> None:
    field.shape[i], field.x[i], field.y[i] = s, x, y
    for j in range(len(field.shape)):
        found = _between(shapes, field, i, s, x, y, j)
        field.loss[i, j] = field.loss[j, i] = found


@borrowing()
def keep_inside(shapes: Shapes, field: Field) -> bool:
    """Move every piece just so far that it does not stick out of the board.

    Returns whether that was possible; a piece that fits only turned is turned.
    """
    for i in range(len(field.turns)):
        field.work[0] += 1
        x_low, y_low, x_high, y_high = _span(shapes, field, field.shape[i])
        turn = field.turns[i, 0]
        while (x_high < x_low or y_high < y_low) and turn < field.turns[i, 1]:
            field.shape[i] = turn
            x_low, y_low, x_high, y_high = _span(shapes, field, turn)
            turn += 1
        if x_high < x_low or y_high < y_low:
            return False
        field.x[i] = max(min(field.x[i], x_high), x_low)
        field.y[i] = max(min(field.y[i], y_high), y_low)
    return True


@njit(cache=True, nogil=True)
def move_all(shapes: Shapes, field: Field) -> float:
    """Move every overlapping piece once, in random order; returns the sum of overlaps left."""
    movable = len(field.turns)
    order = shuffled(movable, field.random)
    for n in range(movable):
        i = int(order[n])
        now = 0.0
        for j in range(len(field.shape)):
            now += field.weight[i, j] * field.loss[i, j]
        if now > 0.0:
            s, x, y, value = _best_place(shapes, field, i, now)
            if value < now:
                _move(shapes, field, i, s, x, y)
    return _reweigh(field)


@borrowing()
def _reweigh(field: Field) -> float:
    total, most = 0.0, 0.0
    for i in range(len(field.turns)):
        for j in range(i + 1, len(field.shape)):
            total += field.loss[i, j]
            most = max(most, field.loss[i, j])
    for i in range(len(field.turns)):
        for j in range(i + 1, len(field.shape)):
            weight = field.weight[i, j]
            if field.loss[i, j] > 0.0:
                weight *= HEAVIER + (HEAVIEST - HEAVIER) * field.loss[i, j] / most
            else:
                weight = max(1.0, weight * LIGHTER)
            field.weight[i, j] = field.weight[j, i] = weight
    return total
