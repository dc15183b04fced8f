"""Ways downhill from a piece's place to one where it overlaps less.

Coordinate descent, as with Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329), gets near one.
The place itself is a corner, where sides of no-fit polygons meet or the strip ends (J. A. Bennell &
J. F. Oliveira 2008, *The geometry of nesting problems: a tutorial*): it is reckoned, where descent
would only come nearer and nearer, and along a narrow valley not even that.

All lengths in mm.
"""

from __future__ import annotations

import math

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing
from kerfwright.nesting.search.separation_kernel import next_random
from kerfwright.nesting.strip_search.field_kernel import Field, Place, collect_near, span, weighted
from kerfwright.nesting.strip_search.no_fit_kernel import NoFits, nearest_side

COARSE, FINE = 0.1, 0.004
"""First and last steps of descents, as shares of the piece's size."""

CORNER_REACH = 0.05
"""How far a corner may be, as a share of the piece's size."""

MOST_CORNERS = 4
"""Corners gone to one after another, at most."""

PARALLEL = 1e-3
"""Sides that meet at a lesser angle (as its sine) make no corner."""

ROOM_TO_DESCEND = 3.0
"""Pieces are collected that may be met within so many first steps of a descent."""

LONGEST_DESCENT = 80
"""Steps of one descent, at most."""


@borrowing()
def descend(fits: NoFits, field: Field, i: int, place: Place) -> Place:
    """Coordinate descent with steps that grow on success and shrink on failure."""
    s, x, y, value = place
    x_low, y_low, x_high, y_high = span(fits, field, s)
    step, finest = COARSE * fits.size[s], FINE * fits.size[s]
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
                near = collect_near(fits, field, i, s, nx, ny, reach)
            found = weighted(fits, field, i, (s, nx, ny), value, near)
            if found < value:
                x, y, value, better = nx, ny, found, True
                break
        step *= 1.1 if better else 0.5
    return s, x, y, value


@borrowing()
def _sides_about(fits: NoFits, field: Field, place: Place, reach: float, near: int) -> int:
    """Collect the sides, of the pieces nearby and of the strip, that may be touched within reach.

    Each is a line: unit normal and distance from the place.
    """
    lying, sides = field.lying, field.sides
    s, x, y, _ = place
    x_low, y_low, x_high, y_high = span(fits, field, s)
    n = 0
    for m in range(near):
        j = field.near[m]
        k = s * len(fits.size) + lying.shape[j]
        ux, uy, away = nearest_side(fits, k, x - lying.x[j], y - lying.y[j], reach)
        if abs(away) <= reach:
            sides[0, n], sides[1, n], sides[2, n] = ux, uy, away
            n += 1
    for axis in range(2):
        at, low, high = (x, x_low, x_high) if axis == 0 else (y, y_low, y_high)
        for to in (low, high):
            if abs(to - at) <= reach:
                sides[0, n], sides[1, n], sides[2, n] = 1.0 - axis, 1.0 * axis, to - at
                n += 1
    return n


@borrowing()
def _corner(sides: FloatArray, a: int, b: int) -> tuple[float, float]:
    """Way to where two sides meet, or to one side straight; infinite for parallel ones."""
    ax, ay, away_a = sides[0, a], sides[1, a], sides[2, a]
    if a == b:
        return ax * away_a, ay * away_a
    bx, by, away_b = sides[0, b], sides[1, b], sides[2, b]
    cross = ax * by - ay * bx
    if abs(cross) < PARALLEL:
        return math.inf, math.inf
    return (away_a * by - away_b * ay) / cross, (away_b * ax - away_a * bx) / cross


@borrowing()
def to_corner(fits: NoFits, field: Field, i: int, place: Place) -> Place:
    """Move to where sides meet, as long as less overlaps there."""
    s, x, y, value = place
    reach = CORNER_REACH * fits.size[s]
    x_low, y_low, x_high, y_high = span(fits, field, s)
    for _ in range(MOST_CORNERS):
        if value <= 0.0:
            break
        near = collect_near(fits, field, i, s, x, y, reach)
        n = _sides_about(fits, field, (s, x, y, value), reach, near)
        to_x, to_y, least = x, y, value
        for a in range(n):
            for b in range(a, n):
                away_x, away_y = _corner(field.sides, a, b)
                if away_x * away_x + away_y * away_y > reach * reach:
                    continue
                nx = min(max(x + away_x, x_low), x_high)
                ny = min(max(y + away_y, y_low), y_high)
                found = weighted(fits, field, i, (s, nx, ny), least, near)
                if found < least:
                    to_x, to_y, least = nx, ny, found
        if least >= value:
            break
        x, y, value = to_x, to_y, least
    return s, x, y, value
