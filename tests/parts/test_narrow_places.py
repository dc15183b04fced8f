"""Webs, fingers and thin strips are found and measured; corners and tips are none.

Widths are checked against plain geometry: the distance between circles is that of their centres
less their radii, and so on.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import rotate

from kerfwright.parts.narrow import narrow_places

PLATE = box(0.0, 0.0, 100.0, 60.0)


def disc(x: float, y: float, radius: float) -> Polygon:
    return Point(x, y).buffer(radius, quad_segs=64)


@given(st.floats(0.2, 2.8), st.floats(2.0, 12.0), st.floats(2.0, 12.0), st.floats(0.0, 180.0))
@settings(max_examples=60, deadline=None)
def test_the_web_between_two_round_holes(web: float, one: float, other: float, turn: float) -> None:
    left, right = disc(50.0 - one - web / 2, 30.0, one), disc(50.0 + other + web / 2, 30.0, other)
    area = rotate(PLATE.difference(left).difference(right), turn, origin=(50.0, 30.0))
    (place,) = narrow_places(area, 3.0)
    assert place.width_mm == pytest.approx(web, abs=0.01)
    assert math.hypot(place.x_mm - 50.0, place.y_mm - 30.0) < 0.3


@given(st.floats(0.2, 2.8), st.floats(6.0, 40.0))
@settings(max_examples=40, deadline=None)
def test_a_finger_is_as_wide_all_along(width: float, long: float) -> None:
    area = PLATE.union(box(100.0, 20.0, 100.0 + long, 20.0 + width))
    (place,) = narrow_places(area, 3.0)
    assert place.width_mm == pytest.approx(width, abs=0.01)
    assert place.x_mm > 100.0
    assert place.length_mm == pytest.approx(long, abs=1.6)


def test_a_neck_between_two_plates() -> None:
    area = shapely.union_all([box(0, 0, 20, 20), box(19, 9, 31, 10.2), box(30, 0, 50, 20)])
    (place,) = narrow_places(area, 3.0)
    assert place.width_mm == pytest.approx(1.2)
    assert 19.0 < place.x_mm < 31.0


@pytest.mark.parametrize(
    "area",
    [
        PLATE,
        PLATE.difference(disc(50.0, 8.2, 5.0)),
        Polygon([(0, 0), (60, 5), (60, -5)]),
        Polygon(
            [
                (
                    (30 - 20 * (n % 2)) * math.cos(n * math.pi / 5),
                    (30 - 20 * (n % 2)) * math.sin(n * math.pi / 5),
                )
                for n in range(10)
            ]
        ),
        disc(-30.0, 0.0, 40.0).intersection(disc(30.0, 0.0, 40.0)),
        PLATE.union(box(100.0, 20.0, 102.0, 22.0)),
        disc(0.0, 0.0, 1.6),
    ],
    ids=["plate", "web of 3.2", "needle", "star", "leaf", "short tab", "disc"],
)
def test_corners_tips_and_wide_places_are_none(area: Polygon) -> None:
    assert narrow_places(area, 3.0) == ()


def test_a_ring_is_narrowest_where_its_edges_are_nearest() -> None:
    (place,) = narrow_places(disc(0, 0, 20).difference(disc(1, 0, 18)), 3.5)
    assert place.width_mm == pytest.approx(1.0, abs=0.01)
    assert (place.x_mm, place.y_mm) == pytest.approx((19.5, 0.0), abs=0.5)


@pytest.mark.parametrize("area", [disc(3.0, 4.0, 1.0), box(0.0, 0.0, 80.0, 2.0)])
def test_what_is_narrow_all_over_says_so(area: Polygon) -> None:
    (place,) = narrow_places(area, 3.0)
    assert place.everywhere
    assert place.width_mm == pytest.approx(2.0, abs=0.01)


def test_every_bridge_between_a_row_of_holes_counts() -> None:
    row = shapely.union_all([disc(5.0 + 4.0 * n, 30.0, 1.5) for n in range(20)])
    places = narrow_places(PLATE.difference(row), 2.5)
    assert len(places) == 19
    assert {round(place.width_mm, 2) for place in places} == {1.0}


@given(st.floats(0.5, 20.0), st.floats(0.0, 360.0))
@settings(max_examples=30, deadline=None)
def test_a_round_fillet_or_disc_larger_than_the_width_is_none(radius: float, turn: float) -> None:
    rounded = PLATE.buffer(-radius).buffer(radius, quad_segs=24)
    assert narrow_places(rotate(rounded, turn), min(3.0, 2.0 * radius)) == ()


@pytest.mark.parametrize("corners", [8, 10, 12, 14])
def test_the_corners_of_a_small_flattened_hole_are_none(corners: int) -> None:
    turns = np.arange(corners) * 2.0 * math.pi / corners
    hole = Polygon(0.25 * np.column_stack([np.cos(turns), np.sin(turns)]))
    assert narrow_places(hole, 0.18) == ()
