"""Moves the entries of closed lines to their best places for a given order.

Touring a sequence of polygons (Dror, Efrat, Lubiw & Mitchell, *STOC* 2003) has an exact answer
for convex polygons and lengths. Outlines bend both ways and count in time, so the places are
looked for: each closed line gets a few candidates around its entry and opposite the entries
before and after it, a dynamic programme takes the best of all together, and again from there
with shorter steps.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.sequence.tour import (
    IntArray,
    Tour,
    Travel,
    Ways,
    choose_options,
    leave,
    tour_s,
)

ROUNDS = 7
"""Each with steps half as long as the one before."""

FIRST_STEP = 1.0 / 16.0
"""Of the line's length."""

CANDIDATES = 12
"""Most that one line gets in a round."""

NEAR_POINT_MM = 0.05
"""So close to a point of the line it is entered there: no tiny moves."""

GAIN_S = 1e-9


class Rings(NamedTuple):
    """Closed lines, the first point repeated: those of stroke s are ``first[s]:first[s + 1]``.

    ``length_mm`` is the length up to each point. Strokes that are not closed have no points.
    """

    first: IntArray
    points: FloatArray
    length_mm: FloatArray


class Lines(NamedTuple):
    """Strokes with their options, where along its line each option enters, and closed lines."""

    ways: Ways
    along: FloatArray
    rings: Rings


@njit(cache=True, error_model="numpy")
def refine(tour: Tour, lines: Lines, travel: Travel) -> float:
    """Move the free option of every closed stroke to its best place; return the seconds gained.

    The free options' ends and places and the tour's choice are changed in place; the order is not.
    """
    ways = lines.ways
    n = len(tour.order)
    before_s = tour_s(tour, ways, travel)
    step = FIRST_STEP
    for _ in range(ROUNDS):
        first = np.zeros(n + 1, dtype=np.int64)
        ends = np.empty((n * CANDIDATES, 4))
        places = np.empty(n * CANDIDATES)
        for s in range(n):
            first[s + 1] = first[s] + _candidates(
                s, step, tour, lines, travel, ends[first[s] :], places[first[s] :]
            )
        tried = Tour(tour.order, tour.position, first[:-1].copy())
        old_s = tour_s(tour, ways, travel)
        choices = Ways(first, ends[: first[n]], np.empty(0, dtype=np.int64))
        choose_options(tried, choices, travel)
        if tour_s(tried, choices, travel) < old_s - GAIN_S:
            for s in range(n):
                _settle(s, tried.choice[s] - first[s], tour, lines, choices, places)
        step *= 0.5
    return before_s - tour_s(tour, ways, travel)


@njit(cache=True, error_model="numpy")
def _settle(
    s: int,
    number: int,
    tour: Tour,
    lines: Lines,
    choices: Ways,
    places: FloatArray,
) -> None:
    """Make a stroke's candidate its choice."""
    ways, rings = lines.ways, lines.rings
    if rings.first[s] == rings.first[s + 1]:
        tour.choice[s] = ways.first[s] + number
    elif number > 0:
        free = ways.first[s + 1] - 1
        row = choices.first[s] + number
        ways.ends[free] = choices.ends[row]
        lines.along[free] = places[row]
        tour.choice[s] = free


@njit(cache=True, error_model="numpy")
def _candidates(
    s: int,
    step: float,
    tour: Tour,
    lines: Lines,
    travel: Travel,
    ends: FloatArray,
    places: FloatArray,
) -> int:
    """Write where a stroke might be entered, the entry it has first; return how many."""
    ways, rings = lines.ways, lines.rings
    if rings.first[s] == rings.first[s + 1]:
        count = ways.first[s + 1] - ways.first[s]
        ends[:count] = ways.ends[ways.first[s] : ways.first[s + 1]]
        return int(count)
    now = lines.along[tour.choice[s]]
    places[0] = now
    count = 1
    length_mm = rings.length_mm[rings.first[s] : rings.first[s + 1]]
    points = rings.points[rings.first[s] : rings.first[s + 1]]
    if length_mm[-1] <= 0.0:
        ends[0] = ways.ends[tour.choice[s]]
        return 1
    at = tour.position[s]
    targets = np.empty((2, 2))
    x, y = leave(at - 1, tour, ways, travel)
    targets[0, 0], targets[0, 1] = x, y
    opposite = 1
    if at + 1 < len(tour.order):
        targets[1] = ways.ends[tour.choice[tour.order[at + 1]], :2]
        opposite = 2
    for number in range(opposite):
        place = _nearest(targets[number, 0], targets[number, 1], points)
        places[count] = np.rint(place)
        places[count + 1] = place
        count += 2
    places[count], places[count + 1] = np.floor(now), np.ceil(now)
    count += 2
    here_mm = _length_at(now, length_mm)
    for side in range(2):
        share = step if side == 0 else -step
        reached_mm = (here_mm + share * length_mm[-1]) % length_mm[-1]
        place = _place_at(reached_mm, length_mm)
        places[count], places[count + 1] = np.rint(place), place
        count += 2
    for number in range(count):
        row, share = _off_points(places[number], length_mm)
        places[number] = row + share
        for axis in range(2):
            value = (1.0 - share) * points[row, axis] + share * points[
                (row + 1) % len(points), axis
            ]
            ends[number, axis] = value
            ends[number, 2 + axis] = value
    return count


@njit(cache=True, error_model="numpy")
def _off_points(place: float, length_mm: FloatArray) -> tuple[int, float]:
    """Point and share of the way to the next one; close to a point it is the point itself."""
    row = int(place)
    if row >= len(length_mm) - 1:
        return 0, 0.0
    share = place - row
    piece_mm = length_mm[row + 1] - length_mm[row]
    if share * piece_mm < NEAR_POINT_MM:
        return row, 0.0
    if (1.0 - share) * piece_mm < NEAR_POINT_MM:
        return (row + 1) % (len(length_mm) - 1), 0.0
    return row, share


@njit(cache=True, error_model="numpy")
def _length_at(place: float, length_mm: FloatArray) -> float:
    row = int(place)
    if row >= len(length_mm) - 1:
        return float(length_mm[-1])
    return float(length_mm[row] + (place - row) * (length_mm[row + 1] - length_mm[row]))


@njit(cache=True, error_model="numpy")
def _place_at(reached_mm: float, length_mm: FloatArray) -> float:
    row = min(int(np.searchsorted(length_mm, reached_mm, side="right")) - 1, len(length_mm) - 2)
    piece_mm = length_mm[row + 1] - length_mm[row]
    if piece_mm <= 0.0:
        return float(row)
    return float(row + (reached_mm - length_mm[row]) / piece_mm)


@njit(cache=True, error_model="numpy")
def _nearest(x: float, y: float, points: FloatArray) -> float:
    """Return the place of a line that is nearest to (x, y)."""
    best_mm2, best = np.inf, 0.0
    for row in range(len(points) - 1):
        px, py = points[row]
        dx, dy = points[row + 1, 0] - px, points[row + 1, 1] - py
        square = dx * dx + dy * dy
        share = 0.0
        if square > 0.0:
            share = min(max(((x - px) * dx + (y - py) * dy) / square, 0.0), 1.0)
        away_x, away_y = px + share * dx - x, py + share * dy - y
        mm2 = away_x * away_x + away_y * away_y
        if mm2 < best_mm2:
            best_mm2, best = mm2, row + share
    return best
