"""Pieces in a strip and how much they overlap.

All lengths in mm.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing
from kerfwright.nesting.strip_search.line_kernel import Intervals, Lying, room_for
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits, overlap

WordArray = npt.NDArray[np.uint64]

Place = tuple[int, float, float, float]
"""Outline, x and y, and the weighted overlap there."""


class Field(NamedTuple):
    """Pieces in a strip from (0, 0) to ``room``.

    ``turns``: shape (n, 2), first outline and one past the last that each piece may take. ``loss``
    and ``weight``: shape (n, n), overlaps and their weights. ``found``: room for intervals.
    ``near``: room for numbers of pieces. ``sides``: shape (3, n + 4), room for sides, each a unit
    normal and a distance. ``random``: state of the random numbers.
    """

    lying: Lying
    turns: IntArray
    loss: FloatArray
    weight: FloatArray
    room: FloatArray
    found: Intervals
    near: IntArray
    sides: FloatArray
    random: WordArray


def field_for(turns: IntArray, room: FloatArray, random: WordArray) -> Field:
    """All pieces in their first turn at (0, 0), not measured yet."""
    count = len(turns)
    return Field(
        lying=Lying(turns[:, 0].copy(), np.zeros(count), np.zeros(count)),
        turns=turns,
        loss=np.zeros((count, count)),
        weight=np.ones((count, count)),
        room=room,
        found=room_for(count),
        near=np.zeros(count, dtype=np.int64),
        sides=np.zeros((3, count + 4)),
        random=random,
    )


@borrowing()
def span(fits: NoFits, field: Field, s: int) -> tuple[float, float, float, float]:
    """Where an outline may lie, low and high; high below low where it does not fit."""
    x_low, y_low = -fits.box[s, 0], -fits.box[s, 1]
    x_high, y_high = field.room[0] - fits.box[s, 2], field.room[1] - fits.box[s, 3]
    # what fills the strip exactly must not be kept out by rounding
    if x_low - fits.contact <= x_high < x_low:
        x_high = x_low
    if y_low - fits.contact <= y_high < y_low:
        y_high = y_low
    return x_low, y_low, x_high, y_high


@borrowing()
def collect_near(
    fits: NoFits, field: Field, i: int, s: int, x: float, y: float, reach: float
) -> int:
    """Number the pieces that ``i`` may overlap within ``reach`` of (x, y), in ``field.near``."""
    lying, around, first = field.lying, fits.around, s * len(fits.size)
    count = 0
    for j in range(len(lying.shape)):
        k = first + lying.shape[j]
        dx, dy = x - lying.x[j], y - lying.y[j]
        if (
            dx + reach > around[k, 0]
            and dx - reach < around[k, 2]
            and dy + reach > around[k, 1]
            and dy - reach < around[k, 3]
            and i != j
        ):
            field.near[count] = j
            count += 1
    return count


@borrowing()
def weighted(
    fits: NoFits, field: Field, i: int, place: tuple[int, float, float], limit: float, near: int
) -> float:
    """Weighted overlaps with the ``near`` pieces collected; beyond ``limit`` any number."""
    lying, (s, x, y) = field.lying, place
    total = 0.0
    for m in range(near):
        j = field.near[m]
        dx, dy = x - lying.x[j], y - lying.y[j]
        total += field.weight[i, j] * overlap(fits, s, lying.shape[j], dx, dy)
        if total > limit:
            break
    return total


@borrowing()
def measure(fits: NoFits, field: Field) -> float:
    """Fill in every overlap; returns their sum, each pair once."""
    total = 0.0
    lying = field.lying
    for i in range(len(lying.shape)):
        for j in range(i + 1, len(lying.shape)):
            dx, dy = lying.x[i] - lying.x[j], lying.y[i] - lying.y[j]
            found = overlap(fits, lying.shape[i], lying.shape[j], dx, dy)
            field.loss[i, j] = field.loss[j, i] = found
            total += found
    return total


@borrowing()
def keep_inside(fits: NoFits, field: Field) -> bool:
    """Move every piece just so far that it lies in the strip; whether that was possible.

    A piece that fits only turned is turned.
    """
    lying = field.lying
    for i in range(len(lying.shape)):
        x_low, y_low, x_high, y_high = span(fits, field, lying.shape[i])
        turn = field.turns[i, 0]
        while (x_high < x_low or y_high < y_low) and turn < field.turns[i, 1]:
            lying.shape[i] = turn
            x_low, y_low, x_high, y_high = span(fits, field, turn)
            turn += 1
        if x_high < x_low or y_high < y_low:
            return False
        lying.x[i] = min(max(lying.x[i], x_low), x_high)
        lying.y[i] = min(max(lying.y[i], y_low), y_high)
    return True


@borrowing(fastmath={"reassoc", "contract", "nsz", "nnan"})
def weighted_sum(field: Field, i: int) -> float:
    """Weighted overlaps of one piece."""
    loss, weight = field.loss, field.weight
    total = 0.0
    for j in range(len(loss)):
        total += weight[i, j] * loss[i, j]
    return total
