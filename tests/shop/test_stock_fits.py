"""Whether a rectangle fits into an offcut of any shape, checked with shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon, box

from kerfwright.shop.stock_fits import SLACK_MM, fits, place_for

TRIANGLE = Polygon([(0, 0), (100, 0), (0, 100)])
"""The largest rectangle at its right angle has sides that add up to 100 (Euclid VI.27)."""

L_SHAPE = box(0, 0, 300, 200).difference(box(100, 80, 300, 200))

WITH_HOLE = box(0, 0, 300, 200).difference(box(140, 90, 160, 110))


@pytest.mark.parametrize(
    ("area", "size", "expected"),
    [
        (box(0, 0, 300, 200), (300, 200), True),
        (box(0, 0, 300, 200), (200, 300), True),
        (box(0, 0, 300, 200), (300.1, 200), False),
        (TRIANGLE, (50, 50), True),
        (TRIANGLE, (80, 20), True),
        (TRIANGLE, (50, 50.1), False),
        (L_SHAPE, (300, 80), True),
        (L_SHAPE, (200, 100), True),
        (L_SHAPE, (110, 110), False),
        (WITH_HOLE, (140, 200), True),
        (WITH_HOLE, (300, 90), True),
        (WITH_HOLE, (145, 145), False),
    ],
)
def test_known_pieces(area: Polygon, size: tuple[float, float], expected: bool) -> None:
    assert fits(area, *size) is expected


@st.composite
def pieces(draw: st.DrawFn) -> Polygon:
    """Stars about a point: any number of corners, inward ones too."""
    radii = draw(st.lists(st.floats(20.0, 100.0), min_size=3, max_size=12))
    angles = np.linspace(0.0, 2.0 * math.pi, len(radii), endpoint=False)
    return Polygon([(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles, strict=True)])


@given(area=pieces(), width=st.floats(5.0, 120.0), height=st.floats(5.0, 120.0))
def test_a_place_that_is_found_lies_inside(area: Polygon, width: float, height: float) -> None:
    assume(area.is_valid)
    found = place_for(area, width, height)
    if found is None:
        return
    x, y = found
    laid = box(x, y, x + width - SLACK_MM, y + height - SLACK_MM)
    assert laid.difference(area.buffer(1e-6)).area == pytest.approx(0.0, abs=1e-6)


@given(area=pieces(), width=st.floats(5.0, 120.0), height=st.floats(5.0, 120.0))
def test_where_none_is_found_none_of_many_places_is_free(
    area: Polygon, width: float, height: float
) -> None:
    assume(area.is_valid and place_for(area, width, height) is None)
    x_low, y_low, x_high, y_high = area.bounds
    for x in np.linspace(x_low, x_high, 15):
        for y in np.linspace(y_low, y_high, 15):
            assert not area.covers(box(x, y, x + width, y + height))
