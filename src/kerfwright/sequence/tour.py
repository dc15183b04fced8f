"""Tours of strokes, each with several ways in and out: their cost, and the best ways for an order.

The problem is a precedence-constrained generalised travelling salesman (Fischetti, Salazar
González & Toth, *Operations Research* 45(3), 1997): visit every stroke once, through one of its
options. A dynamic programme chooses all options anew for a given order.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing

IntArray = npt.NDArray[np.int64]


class Ways(NamedTuple):
    """The options of every stroke: those of stroke s are the rows ``first[s]:first[s + 1]``.

    ``ends`` has a row (entry x, entry y, exit x, exit y) for each; ``flip`` names the option that
    follows the stroke the other way, -1 if there is none.
    """

    first: IntArray
    ends: FloatArray
    flip: IntArray


class Precedence(NamedTuple):
    """Compressed rows: ``after[after_first[s]:after_first[s + 1]]`` must come after stroke s."""

    after_first: IntArray
    after: IntArray
    before_first: IntArray
    before: IntArray


class Travel(NamedTuple):
    """Where the beam starts, and the travel limits (x speed, y speed, x and y acceleration)."""

    start: FloatArray
    axes: FloatArray


class Tour(NamedTuple):
    """An order of strokes, each stroke's position in it, and its chosen option."""

    order: IntArray
    position: IntArray
    choice: IntArray


@borrowing(error_model="numpy")
def travel_s(ax: float, ay: float, bx: float, by: float, axes: FloatArray) -> float:
    """Seconds of a straight move from rest to rest; ``axes`` as in :class:`Travel`.

    Along the line the slower axis limits the speed and the weaker one the acceleration, which
    need not be the same axis: with p = max(length / speed) and q = max(length / acceleration)
    over the axes the trapezoid takes p + q/p and, if it is too short for it, the triangle 2·√q.
    """
    dx, dy = abs(bx - ax), abs(by - ay)
    p: float = max(dx / axes[0], dy / axes[1])
    q: float = max(dx / axes[2], dy / axes[3])
    if p * p > q:
        return p + q / p
    return 2.0 * math.sqrt(q)


@borrowing(error_model="numpy")
def tour_s(tour: Tour, ways: Ways, travel: Travel) -> float:
    """Seconds of all travels of the tour, from the start to the last entry."""
    total = 0.0
    for k in range(len(tour.order)):
        x, y = leave(k - 1, tour, ways, travel)
        total += enter_s(x, y, k, tour, ways, travel)
    return total


@borrowing(error_model="numpy")
def leave(k: int, tour: Tour, ways: Ways, travel: Travel) -> tuple[float, float]:
    """Where the beam is after position ``k``; -1 is the start."""
    if k < 0:
        return travel.start[0], travel.start[1]
    option = tour.choice[tour.order[k]]
    return ways.ends[option, 2], ways.ends[option, 3]


@borrowing(error_model="numpy")
def enter_s(x: float, y: float, k: int, tour: Tour, ways: Ways, travel: Travel) -> float:
    """Seconds from (x, y) to the entry at position ``k``; none after the last."""
    if k >= len(tour.order):
        return 0.0
    return option_s(x, y, tour.choice[tour.order[k]], ways, travel)


@borrowing(error_model="numpy")
def option_s(x: float, y: float, option: int, ways: Ways, travel: Travel) -> float:
    """Seconds from (x, y) to the entry of an option."""
    return travel_s(x, y, ways.ends[option, 0], ways.ends[option, 1], travel.axes)


@njit(cache=True, error_model="numpy")
def choose_options(tour: Tour, ways: Ways, travel: Travel) -> None:
    """Choose the best option of every stroke for the order, by dynamic programming."""
    n = len(tour.order)
    ends, first = ways.ends, ways.first
    cost = np.zeros(len(ends))
    came = np.full(len(ends), -1, dtype=np.int64)
    x, y = travel.start
    for k in range(n):
        s = tour.order[k]
        for option in range(first[s], first[s + 1]):
            in_x, in_y = ends[option, 0], ends[option, 1]
            if k == 0:
                cost[option] = travel_s(x, y, in_x, in_y, travel.axes)
                continue
            earlier = tour.order[k - 1]
            best = math.inf
            for last in range(first[earlier], first[earlier + 1]):
                total = cost[last] + travel_s(ends[last, 2], ends[last, 3], in_x, in_y, travel.axes)
                if total < best:
                    best = total
                    came[option] = last
            cost[option] = best
    if n == 0:
        return
    s = tour.order[n - 1]
    option = first[s] + int(np.argmin(cost[first[s] : first[s + 1]]))
    for k in range(n - 1, -1, -1):
        tour.choice[tour.order[k]] = option
        option = came[option]
