"""Where a piece overlaps least, sides meet: that place is reckoned, not approached.

Distances to sides are checked against shapely, which knows nothing of no-fit polygons.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from search_layouts import star
from shapely import Point, Polygon, box
from shapely.affinity import translate
from shapely.geometry import LinearRing

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.search.separation import random_state
from kerfwright.nesting.strip_search.descent_kernel import to_corner
from kerfwright.nesting.strip_search.field_kernel import Field, field_for
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.no_fit_kernel import NoFits, nearest_side

radii = st.lists(st.floats(4.0, 20.0), min_size=3, max_size=9)


def ring(area: Polygon) -> FloatArray:
    return np.array(area.exterior.coords)[:-1]


def field_of(shapes: list[int], places: list[tuple[float, float]], room: FloatArray) -> Field:
    turns = np.array([(shape, shape + 1) for shape in shapes])
    field = field_for(turns, room, random_state(1))
    field.lying.x[:], field.lying.y[:] = np.array(places).T
    return field


def three_laths() -> tuple[NoFits, Field]:
    """A square, a level and an upright lath; the room between the laths is just the square's."""
    rings = [ring(box(0, 0, 10, 10)), ring(box(0, 0, 60, 10)), ring(box(0, 0, 10, 60))]
    fits = no_fits(turns_of(rings, [(0.0,)] * 3))
    return fits, field_of([0, 1, 2], [(0.0, 0.0), (5.0, 0.0), (0.0, 10.0)], np.array([90.0, 90.0]))


@given(radii, radii, st.tuples(st.floats(-40.0, 40.0), st.floats(-40.0, 40.0)))
def test_the_nearest_side_is_as_far_as_shapely_says(
    one: list[float], other: list[float], at: tuple[float, float]
) -> None:
    rings = [ring(star(one)), ring(star(other))]
    fits = no_fits(turns_of(rings, [(0.0,)] * 2))
    k = 1  # the first outline about the second
    edges = fits.edge[:, fits.start[k] : fits.start[k + 1]].T
    shortest = min(LinearRing([a, b, a]).distance(Point(at)) for a, b in edges.reshape(-1, 2, 2))
    x, y, away = nearest_side(fits, k, *at, 1e3)
    assert math.hypot(x, y) == pytest.approx(1.0)
    assert abs(away) <= shortest + 1e-9
    there = Point(at[0] + x * away, at[1] + y * away)
    lines = [LinearRing([2 * a - b, 2 * b - a, a]) for a, b in edges.reshape(-1, 2, 2)]
    assert min(line.distance(there) for line in lines) < 1e-6 or abs(away) < shortest
    assert math.isinf(nearest_side(fits, k, *at, 0.5 * shortest)[2]) or shortest == 0.0


@pytest.mark.parametrize("off", [(-0.3, -0.2), (-0.4, -0.01), (-0.05, -0.4)])
def test_a_piece_goes_to_the_corner_between_two_others(off: tuple[float, float]) -> None:
    fits, field = three_laths()
    # the free corner is at (10, 10): beside the upright lath, above the level one
    assert to_corner(fits, field, 0, (0, 10.0 + off[0], 10.0 + off[1], 9.0)) == pytest.approx(
        (0, 10.0, 10.0, 0.0), abs=1e-12
    )


def test_the_end_of_the_strip_is_a_side_too() -> None:
    fits, field = three_laths()
    field.room[:] = 75.0, 20.0
    # above the level lath, whose top is at 10, there is just room enough
    where = to_corner(fits, field, 0, (0, 40.0, 9.9, 9.0))
    assert where == pytest.approx((0, 40.0, 10.0, 0.0), abs=1e-12)


def test_a_corner_that_is_beyond_reach_is_left_to_the_descent() -> None:
    fits, field = three_laths()
    start = (0, 8.5, 9.0, 5.0)
    assert to_corner(fits, field, 0, start) == start


@given(radii, radii, st.tuples(st.floats(-20.0, 20.0), st.floats(-20.0, 20.0)))
def test_nothing_overlaps_more_in_a_corner(
    one: list[float], other: list[float], at: tuple[float, float]
) -> None:
    rings = [ring(star(one)), ring(star(other))]
    fits = no_fits(turns_of(rings, [(0.0,)] * 2))
    field = field_of([0, 1], [at, (100.0, 100.0)], np.array([200.0, 200.0]))
    start = (0, 100.0 + at[0], 100.0 + at[1], 1e3)
    _, x, y, value = to_corner(fits, field, 0, start)
    assert value <= 1e3
    common = translate(star(one), x, y).intersection(translate(star(other), 100.0, 100.0)).area
    if value <= 0.0:
        assert common < 1e-6
