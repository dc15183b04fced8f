"""Draws overlapping pieces of a strip apart, one piece at a time.

Guided local search (Voudouris & Tsang 1999; for placing Egeblad, Nielsen & Odgaard 2007 and Umetani
et al. 2009): each piece moves where it overlaps least, pairs that go on overlapping weigh more and
more. A new place is found along lines (:mod:`.line_kernel`), from a few random ones and by turns
upright and level, and from there by coordinate descent on the true depths, as with Gardeyn, Vanden
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
from kerfwright.nesting.search.separation_kernel import next_random, shuffled
from kerfwright.nesting.strip_search.line_kernel import (
    Intervals,
    Lying,
    best_on,
    cross,
    first_free,
)
from kerfwright.nesting.strip_search.no_fit_kernel import (
    IntArray,
    NoFits,
    overlap,
)

WordArray = npt.NDArray[np.uint64]

WIDE, NEAR = 2, 1
"""Random places from which lines are searched for each move: anywhere, and about the piece."""

LINES = 4
"""Lines searched from each of them, by turns along the strip and across, at most."""

COARSE, FINE, FINEST = 0.1, 0.004, 2e-5
"""Steps of descents, as shares of the piece's size: two end at the middle one, a last begins there.
"""

ROOM_TO_DESCEND = 3.0
"""Pieces are collected that may be met within so many first steps of a descent."""

LONGEST_DESCENT = 80
"""Steps of one descent, at most."""

HEAVIER, HEAVIEST, LIGHTER = 1.2, 2.0, 0.95
"""Factors of a pair's weight: least and greatest while it overlaps, and when it does not."""

START_LINES = 40
"""Level lines tried for each piece of the first layout."""

Place = tuple[int, float, float, float]
"""Outline, x and y, and the weighted overlap there."""


class Field(NamedTuple):
    """Pieces in a strip from (0, 0) to ``room``.

    ``turns``: shape (n, 2), first outline and one past the last that each piece may take. ``loss``
    and ``weight``: shape (n, n), overlaps and their weights. ``found``: room for intervals.
    ``near``: room for numbers of pieces.
    ``random``: state of the random numbers.
    """

    lying: Lying
    turns: IntArray
    loss: FloatArray
    weight: FloatArray
    room: FloatArray
    found: Intervals
    near: IntArray
    random: WordArray


@borrowing()
def _span(fits: NoFits, field: Field, s: int) -> tuple[float, float, float, float]:
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
def _collect_near(
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
def _weighted(
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
def _along_lines(
    fits: NoFits, field: Field, i: int, s: int, x: float, y: float
) -> tuple[float, float, bool]:
    """Search lines through (x, y) by turns; returns the place and whether it is free."""
    x_low, y_low, x_high, y_high = _span(fits, field, s)
    axis = int(next_random(field.random) * 2.0)
    least = math.inf
    for _ in range(LINES):
        if axis == 0:
            first, last, across = x_low, x_high, y
        else:
            first, last, across = y_low, y_high, x
        line = (axis, across, first, last)
        n = cross(fits, field.lying, field.weight[i], i, s, line, field.found)
        chance = next_random(field.random)
        at, total = best_on(field.found, n, first, last, fits.contact, chance)
        if total >= least:
            break
        least = total
        if axis == 0:
            x = at
        else:
            y = at
        if total <= 0.0:
            return x, y, True
        axis = 1 - axis
    return x, y, False


@borrowing()
def _descend(
    fits: NoFits, field: Field, i: int, place: Place, first_step: float, last_step: float
) -> Place:
    """Coordinate descent with steps that grow on success and shrink on failure."""
    s, x, y, value = place
    x_low, y_low, x_high, y_high = _span(fits, field, s)
    step, finest = first_step * fits.size[s], last_step * fits.size[s]
    reach, near, x_near, y_near = ROOM_TO_DESCEND * step, -1, x, y
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
            if near < 0 or max(abs(nx - x_near), abs(ny - y_near)) > reach:
                x_near, y_near = nx, ny
                near = _collect_near(fits, field, i, s, nx, ny, reach)
            found = _weighted(fits, field, i, (s, nx, ny), value, near)
            if found < value:
                x, y, value, better = nx, ny, found, True
                break
        step *= 1.1 if better else 0.5
    return s, x, y, value


@borrowing()
def _tried(fits: NoFits, field: Field, i: int, number: int) -> tuple[int, float, float]:
    """Outline and place from which lines are searched: where the piece lies, or a random one."""
    lying, box = field.lying, fits.box
    s_now, x_now, y_now = lying.shape[i], lying.x[i], lying.y[i]
    if number == 0:
        return s_now, x_now, y_now
    first, last = field.turns[i, 0], field.turns[i, 1]
    s = min(first + int(next_random(field.random) * (last - first)), last - 1)
    x_low, y_low, x_high, y_high = _span(fits, field, s)
    across, up = next_random(field.random), next_random(field.random)
    if number <= WIDE:
        return s, x_low + across * (x_high - x_low), y_low + up * (y_high - y_low)
    # keep the middle near where it was, also under another turn
    x = x_now + 0.5 * (box[s_now, 0] + box[s_now, 2] - box[s, 0] - box[s, 2])
    y = y_now + 0.5 * (box[s_now, 1] + box[s_now, 3] - box[s, 1] - box[s, 3])
    x += (across - 0.5) * fits.size[s_now]
    y += (up - 0.5) * fits.size[s_now]
    return s, min(max(x, x_low), x_high), min(max(y, y_low), y_high)


@borrowing()
def _best_place(fits: NoFits, field: Field, i: int, now: float) -> Place:
    """Best place found for piece ``i``, whose weighted overlap is ``now``."""
    lying = field.lying
    here = (lying.shape[i], lying.x[i], lying.y[i], now)
    best = (lying.shape[i], lying.x[i], lying.y[i], math.inf)
    for number in range(WIDE + NEAR + 1):
        s, x, y = _tried(fits, field, i, number)
        x_low, y_low, x_high, y_high = _span(fits, field, s)
        if x_high < x_low or y_high < y_low:
            continue
        x, y, free = _along_lines(fits, field, i, s, x, y)
        if free:
            return s, x, y, 0.0
        near = _collect_near(fits, field, i, s, x, y, 0.0)
        value = _weighted(fits, field, i, (s, x, y), best[3], near)
        if value < best[3]:
            best = (s, x, y, value)
    best = _descend(fits, field, i, best, COARSE, FINE)
    here = _descend(fits, field, i, here, COARSE, FINE)
    if here[3] <= best[3]:
        best = here
    return _descend(fits, field, i, best, FINE, FINEST)


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
        x_low, y_low, x_high, y_high = _span(fits, field, lying.shape[i])
        turn = field.turns[i, 0]
        while (x_high < x_low or y_high < y_low) and turn < field.turns[i, 1]:
            lying.shape[i] = turn
            x_low, y_low, x_high, y_high = _span(fits, field, turn)
            turn += 1
        if x_high < x_low or y_high < y_low:
            return False
        lying.x[i] = min(max(lying.x[i], x_low), x_high)
        lying.y[i] = min(max(lying.y[i], y_low), y_high)
    return True


@njit(cache=True, nogil=True)
def move_all(fits: NoFits, field: Field) -> float:
    """Move every overlapping piece once, in random order; returns the weighted sum left."""
    lying, loss, weight = field.lying, field.loss, field.weight
    count = len(lying.shape)
    order = shuffled(count, field.random)
    for n in range(count):
        i = int(order[n])
        now = (weight[i] * loss[i]).sum()
        if now <= 0.0:
            continue
        s, x, y, value = _best_place(fits, field, i, now)
        if value >= now:
            continue
        lying.shape[i], lying.x[i], lying.y[i] = s, x, y
        for j in range(count):
            if j != i:
                found = overlap(fits, s, lying.shape[j], x - lying.x[j], y - lying.y[j])
                loss[i, j] = loss[j, i] = found
    return float(0.5 * (weight * loss).sum())


@njit(cache=True, nogil=True)
def reweigh(field: Field) -> float:
    """Weigh pairs by whether they overlap still; returns the sum of overlaps, each once."""
    loss, weight = field.loss, field.weight
    most = loss.max()
    for i in range(len(loss)):
        for j in range(len(loss)):
            if loss[i, j] > 0.0:
                weight[i, j] *= HEAVIER + (HEAVIEST - HEAVIER) * loss[i, j] / most
            else:
                weight[i, j] = max(1.0, weight[i, j] * LIGHTER)
    return float(0.5 * loss.sum())


@njit(cache=True, nogil=True)
def lay_first(fits: NoFits, field: Field, order: IntArray) -> bool:
    """Lay pieces one by one as far to the left as some level lines let them; whether all fit."""
    lying = field.lying
    far = 1e3 * field.room[0]
    lying.x[:] = far
    for i in order:
        best, reach = (-1, 0.0, 0.0), math.inf
        for s in range(field.turns[i, 0], field.turns[i, 1]):
            x_low, y_low, x_high, y_high = _span(fits, field, s)
            if y_high < y_low or x_high < x_low:
                continue
            for number in range(START_LINES):
                # both edges of the strip, then anywhere
                up = float(number) if number < 2 else next_random(field.random)
                y = y_low + up * (y_high - y_low)
                line = (0, y, x_low, x_high)
                n = cross(fits, lying, field.weight[i], i, s, line, field.found)
                x = first_free(field.found, n, x_low, x_high, fits.contact)
                if x + fits.box[s, 2] < reach - fits.contact:
                    best, reach = (s, x, y), x + fits.box[s, 2]
        if best[0] < 0:
            return False
        lying.shape[i], lying.x[i], lying.y[i] = best
    return True
