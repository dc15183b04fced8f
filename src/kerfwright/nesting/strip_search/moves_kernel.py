"""Draws overlapping pieces of a strip apart, one piece at a time.

Guided local search (Voudouris & Tsang 1999; for placing Egeblad, Nielsen & Odgaard 2007 and Umetani
et al. 2009): each piece moves where it overlaps least, pairs that go on overlapping weigh more and
more. A new place is found along lines (:mod:`.line_kernel`), from a few random ones and by turns
upright and level, and from there downhill on the true depths (:mod:`.descent_kernel`).

All lengths in mm.
"""

from __future__ import annotations

import math

from numba import njit

from kerfwright.kernels import borrowing
from kerfwright.nesting.search.separation_kernel import next_random, shuffled
from kerfwright.nesting.strip_search.descent_kernel import descend, to_corner
from kerfwright.nesting.strip_search.field_kernel import (
    Field,
    Place,
    collect_near,
    span,
    weighted,
    weighted_sum,
)
from kerfwright.nesting.strip_search.line_kernel import best_on, cross, first_free
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits, overlap

WIDE, NEAR = 2, 1
"""Random places from which lines are searched for each move: anywhere, and about the piece."""

LINES = 4
"""Lines searched from each of them, by turns along the strip and across, at most."""

START_LINES = 40
"""Level lines tried for each piece of the first layout."""


@borrowing()
def _along_lines(
    fits: NoFits, field: Field, i: int, s: int, x: float, y: float
) -> tuple[float, float, bool]:
    """Search lines through (x, y) by turns; returns the place and whether it is free."""
    x_low, y_low, x_high, y_high = span(fits, field, s)
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
def _tried(fits: NoFits, field: Field, i: int, number: int) -> tuple[int, float, float]:
    """Outline and place from which lines are searched: where the piece lies, or a random one."""
    lying, box = field.lying, fits.box
    s_now, x_now, y_now = lying.shape[i], lying.x[i], lying.y[i]
    if number == 0:
        return s_now, x_now, y_now
    first, last = field.turns[i, 0], field.turns[i, 1]
    s = min(first + int(next_random(field.random) * (last - first)), last - 1)
    x_low, y_low, x_high, y_high = span(fits, field, s)
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
        x_low, y_low, x_high, y_high = span(fits, field, s)
        if x_high < x_low or y_high < y_low:
            continue
        x, y, free = _along_lines(fits, field, i, s, x, y)
        if free:
            return s, x, y, 0.0
        near = collect_near(fits, field, i, s, x, y, 0.0)
        value = weighted(fits, field, i, (s, x, y), best[3], near)
        if value < best[3]:
            best = (s, x, y, value)
    best = descend(fits, field, i, best)
    here = descend(fits, field, i, here)
    if here[3] <= best[3]:
        best = here
    return to_corner(fits, field, i, best)


@njit(cache=True, nogil=True)
def move_all(fits: NoFits, field: Field) -> None:
    """Move every overlapping piece once, in random order."""
    for i in shuffled(len(field.loss), field.random):
        now = weighted_sum(field, i)
        if now > 0.0:
            _move(fits, field, i, now)


@borrowing()
def _move(fits: NoFits, field: Field, i: int, now: float) -> None:
    """Move a piece, whose weighted overlap is ``now``, where it overlaps less."""
    s, x, y, value = _best_place(fits, field, i, now)
    if value >= now:
        return
    lying, loss = field.lying, field.loss
    lying.shape[i], lying.x[i], lying.y[i] = s, x, y
    for j in range(len(loss)):
        if j != i:
            found = overlap(fits, s, lying.shape[j], x - lying.x[j], y - lying.y[j])
            loss[i, j] = loss[j, i] = found


@njit(cache=True, nogil=True)
def lay_first(fits: NoFits, field: Field, order: IntArray) -> bool:
    """Lay pieces one by one as far to the left as some level lines let them; whether all fit."""
    lying = field.lying
    far = 1e3 * field.room[0]
    lying.x[:] = far
    for i in order:
        best, reach = (-1, 0.0, 0.0), math.inf
        for s in range(field.turns[i, 0], field.turns[i, 1]):
            x_low, y_low, x_high, y_high = span(fits, field, s)
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
