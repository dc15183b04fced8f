"""A footprint is simple, never smaller than its body, and no larger than said."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box
from shapely.affinity import rotate

from kerfwright.nesting.footprint import footprint, widened


def wavy(size_mm: float, waves: int, depth: float, points: int) -> Polygon:
    t = np.linspace(0.0, 2.0 * math.pi, points, endpoint=False)
    r = size_mm * (1.0 + depth * np.sin(waves * t))
    return Polygon(np.column_stack([r * np.cos(t), r * np.sin(t)]))


wavies = st.builds(
    wavy, st.floats(5.0, 200.0), st.integers(2, 9), st.floats(0.0, 0.6), st.integers(200, 3000)
)


@settings(max_examples=25)
@given(wavies, st.sampled_from([(0.0,), (0.0, 90.0, 180.0, 270.0), (0.0, 45.0)]))
def test_a_curve_of_many_points_is_simplified_outward(
    curve: Polygon, turns_deg: tuple[float, ...]
) -> None:
    ring = Polygon(footprint(curve, allowance_mm=0.1, turns_deg=turns_deg))
    assert ring.is_valid
    assert ring.covers(curve)
    assert len(ring.exterior.coords) - 1 <= 128
    assert ring.hausdorff_distance(curve) < max(0.5, 0.1 * math.sqrt(curve.area))
    for turn in turns_deg:
        grown = rotate(ring, turn, origin=(0, 0)).bounds
        assert grown == pytest.approx(rotate(curve, turn, origin=(0, 0)).bounds, abs=1e-9)


def test_a_few_points_stay_exactly_as_they_are() -> None:
    shape = Polygon([(0, 0), (50, 0), (50, 20), (20, 20), (20, 60), (0, 60)])
    assert Polygon(footprint(shape, allowance_mm=0.1)).equals(shape)


def test_holes_are_filled() -> None:
    ring = Point(0, 0).buffer(30.0, quad_segs=8).difference(box(-5, -5, 5, 5))
    assert Polygon(footprint(ring, allowance_mm=0.1)).equals(Polygon(ring.exterior))


@settings(max_examples=25)
@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=2, max_size=8))
def test_separate_pieces_are_bridged_within_their_hull(corners: list[tuple[int, int]]) -> None:
    pieces = shapely.union_all([box(5 * x, 5 * y, 5 * x + 5, 5 * y + 5) for x, y in corners])
    ring = Polygon(footprint(pieces, allowance_mm=0.1))
    assert ring.is_valid
    assert ring.covers(pieces)
    assert ring.bounds == pytest.approx(pieces.bounds, abs=1e-9)


def test_pieces_far_apart_leave_the_room_between_them_free() -> None:
    pair = MultiPolygon([box(0, 0, 10, 10), box(90, 0, 100, 10)])
    assert Polygon(footprint(pair, allowance_mm=0.1)).area < 1.1 * pair.area


@settings(max_examples=25)
@given(wavies, st.sampled_from([0.001, 0.5, 3.0]))
def test_what_the_engine_gets_is_wider_all_round(curve: Polygon, by_mm: float) -> None:
    ring = footprint(curve, allowance_mm=0.1)
    wide = Polygon(widened(ring, by_mm))
    assert wide.is_valid
    assert wide.covers(Polygon(ring))
    assert wide.exterior.distance(Polygon(ring)) >= 0.99 * by_mm
