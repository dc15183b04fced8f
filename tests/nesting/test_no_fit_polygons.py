"""No-fit polygons tell whether two outlines overlap, how deep, and where on a line they do not.

The reference for overlaps is shapely, which knows nothing of no-fit polygons.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from search_layouts import star
from shapely import Polygon
from shapely.affinity import rotate, translate

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.strip_search.line_kernel import (
    Intervals,
    Lying,
    best_on,
    cross,
    first_free,
    room_for,
)
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.no_fit_kernel import depth, overlap

TURNS = (0.0, 90.0, 215.0)

radii = st.lists(st.floats(4.0, 20.0), min_size=3, max_size=9)
places = st.tuples(st.floats(-40.0, 40.0), st.floats(-40.0, 40.0))


def ring(area: Polygon) -> FloatArray:
    return np.array(area.exterior.coords)[:-1]


@given(radii, radii, places, st.integers(0, 2), st.integers(0, 2))
def test_outlines_overlap_where_shapely_says_so(
    one: list[float], other: list[float], at: tuple[float, float], turn: int, other_turn: int
) -> None:
    a, b = star(one), star(other)
    turns = turns_of([ring(a), ring(b)], [TURNS, TURNS])
    fits = no_fits(turns)
    s = turns.turn_deg.index(TURNS[turn]) if TURNS[turn] in turns.turn_deg else 0
    t = turns.first[1]
    t += (
        turns.turn_deg[t:].index(TURNS[other_turn])
        if TURNS[other_turn] in turns.turn_deg[t:]
        else 0
    )
    moved = translate(rotate(a, turns.turn_deg[s], origin=(0, 0)), *at)
    still = rotate(b, turns.turn_deg[t], origin=(0, 0))
    common = moved.intersection(still).area
    if overlap(fits, s, t, *at) > 0.0:
        assert common > 0.0
    else:
        assert common < 1e-6
    # the other way round it is the same
    assert overlap(fits, t, s, -at[0], -at[1]) == pytest.approx(overlap(fits, s, t, *at), abs=1e-6)


@given(radii, radii, places, st.floats(0.0, 2.0 * math.pi))
def test_no_shorter_move_than_the_depth_sets_outlines_apart(
    one: list[float], other: list[float], at: tuple[float, float], way: float
) -> None:
    a, b = star(one), star(other)
    fits = no_fits(turns_of([ring(a), ring(b)], [(0.0,), (0.0,)]))
    deep = depth(fits, 1, *at)
    short = 0.99 * deep
    moved = translate(a, at[0] + short * math.cos(way), at[1] + short * math.sin(way))
    assert deep == 0.0 or moved.intersection(b).area > 0.0


def test_some_move_as_long_as_the_depth_sets_outlines_apart() -> None:
    a, b = star([10.0, 4.0, 12.0, 6.0, 9.0]), star([15.0, 5.0, 9.0, 14.0])
    fits = no_fits(turns_of([ring(a), ring(b)], [(0.0,), (0.0,)]))
    deep = depth(fits, 1, 3.0, 2.0)
    assert deep > 0.0
    ways = np.linspace(0.0, 2.0 * math.pi, 7200, endpoint=False)
    left = [
        translate(a, 3.0 + 1.0001 * deep * math.cos(w), 2.0 + 1.0001 * deep * math.sin(w))
        .intersection(b)
        .area
        for w in ways
    ]
    assert min(left) < 1e-4


def test_a_piece_lies_in_the_notch_of_another() -> None:
    notched = Polygon([(0, 0), (30, 0), (30, 20), (20, 20), (20, 5), (10, 5), (10, 20), (0, 20)])
    small = Polygon([(0, 0), (8, 0), (8, 8), (0, 8)])
    fits = no_fits(turns_of([ring(small), ring(notched)], [(0.0,), (0.0,)]))
    assert overlap(fits, 0, 1, 11.0, 8.0) == 0.0
    assert depth(fits, 1, 11.0, 4.0) == pytest.approx(1.0)


def test_turns_that_look_alike_count_once() -> None:
    square = np.array([(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)])
    plate = square * [2.0, 1.0]
    turns = turns_of([square, plate], [(0.0, 90.0, 180.0), (0.0, 90.0, 180.0)])
    assert turns.first == (0, 1, 3)


intervals = st.lists(
    st.tuples(st.floats(0.0, 90.0), st.floats(0.5, 30.0), st.floats(1.0, 5.0)), max_size=12
)


@given(intervals, st.floats(0.0, 0.999))
def test_no_place_on_a_line_is_better_than_the_one_found(
    given_ones: list[tuple[float, float, float]], chance: float
) -> None:
    low = np.array([a for a, _, _ in given_ones])
    high = low + np.array([wide for _, wide, _ in given_ones])
    weight = np.array([w for _, _, w in given_ones])
    found = Intervals(low, high, weight, np.zeros(0))
    at, total = best_on(found, len(low), 10.0, 80.0, 1e-9, chance)
    assert 10.0 <= at <= 80.0

    def tents(x: float) -> float:
        return float((weight * np.maximum(np.minimum(x - low, high - x), 0.0)).sum())

    assert total == pytest.approx(tents(at), abs=1e-8)
    assert total <= min(tents(x) for x in np.linspace(10.0, 80.0, 141)) + 1e-8
    free = first_free(found, len(low), 10.0, 80.0, 1e-9)
    if math.isfinite(free):
        assert tents(free) < 1e-6
        assert free == 10.0 or all(tents(x) > 0.0 for x in np.linspace(10.0, free, 50)[1:-1])
    else:
        assert all(tents(x) > 0.0 for x in np.linspace(10.0, 80.0, 141)[1:-1])


@given(radii, st.floats(-15.0, 15.0), st.sampled_from([0, 1]))
def test_intervals_of_a_line_are_where_outlines_overlap(
    lobes: list[float], across: float, axis: int
) -> None:
    a, b = star([6.0, 9.0, 5.0, 8.0]), star(lobes)
    fits = no_fits(turns_of([ring(a), ring(b)], [(0.0,), (0.0,)]))
    lying = Lying(np.array([0, 1]), np.zeros(2), np.zeros(2))
    found = room_for(2)
    n = cross(fits, lying, np.ones(2), 0, 0, (axis, across, -60.0, 60.0), found)
    for x in np.linspace(-50.0, 50.0, 101):
        at = (float(x), across) if axis == 0 else (across, float(x))
        within = any(found.low[m] + 1e-6 < x < found.high[m] - 1e-6 for m in range(n))
        beside = all(x < found.low[m] - 1e-6 or x > found.high[m] + 1e-6 for m in range(n))
        common = translate(a, *at).intersection(b).area
        assert common > 0.0 if within else (not beside or common < 1e-6)
