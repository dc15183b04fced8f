"""Whether a part can lie on an irregular sheet hangs on both outlines, not on their boxes.

The largest squares in a right triangle with two equal legs have the side leg / 2 in the corner,
and leg · √2 / 3 on the long side (elementary geometry: similar triangles).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from search_layouts import star
from shapely import Point, Polygon, box
from shapely.affinity import rotate, translate

from kerfwright.geometry.affine import rotation
from kerfwright.nesting.fits import fits
from kerfwright.nesting.inner_fit import fits_within
from kerfwright.nesting.model import Body, SheetSize

LEG_MM = 200.0
TRIANGLE = Polygon([(0, 0), (LEG_MM, 0), (0, LEG_MM)])
OFFCUT = SheetSize("offcut", LEG_MM, LEG_MM, 1, outline=TRIANGLE)
STILL = [rotation(0.0)]
RADII = st.lists(st.floats(10.0, 60.0), min_size=5, max_size=9)


def square(side_mm: float, *turns_deg: float) -> Body:
    return Body("square", (box(0.0, 0.0, side_mm, side_mm),), 1, turns_deg)


@pytest.mark.parametrize("turn_deg", [0.0, 45.0])
@pytest.mark.parametrize("margin_mm", [0.0, 5.0])
def test_the_largest_square_in_a_triangle(turn_deg: float, margin_mm: float) -> None:
    # the margin moves the two legs by itself and the long side by itself along its normal
    leg_mm = LEG_MM - margin_mm * (2.0 + math.sqrt(2.0))
    most_mm = leg_mm / 2.0 if turn_deg == 0.0 else leg_mm * math.sqrt(2.0) / 3.0
    for share, expected in ((0.999, True), (1.0, True), (1.001, False)):
        body = square(share * most_mm, turn_deg)
        assert fits(body, OFFCUT, margin_mm=margin_mm, spacing_mm=2.0) is expected


def test_one_turn_that_fits_is_enough() -> None:
    body = square(0.49 * LEG_MM, 45.0)
    assert not fits(body, OFFCUT, margin_mm=0.0, spacing_mm=2.0)
    body = square(0.49 * LEG_MM, 45.0, 0.0)
    assert fits(body, OFFCUT, margin_mm=0.0, spacing_mm=2.0)


def test_a_part_that_only_fits_turned_over() -> None:
    hook = Polygon([(0, 0), (50, 0), (50, 10), (10, 10), (10, 90), (0, 90)])
    mirrored = Polygon([(-x, y) for x, y in hook.exterior.coords])
    sheet = SheetSize("hooked", 52.0, 92.0, 1, outline=translate(mirrored.buffer(1.0), 51.0, 1.0))
    alike = Body("hook", (hook,), 1, (0.0,), may_mirror=True)
    faced = Body("hook", (hook,), 1, (0.0,))
    assert fits(alike, sheet, margin_mm=0.0, spacing_mm=0.0)
    assert not fits(faced, sheet, margin_mm=0.0, spacing_mm=0.0)


def test_a_ring_lies_round_a_hole_of_the_sheet_and_a_disc_does_not() -> None:
    middle = Point(100.0, 100.0)
    disc = Point(0.0, 0.0).buffer(90.0)
    room = box(0.0, 0.0, 200.0, 200.0).difference(middle.buffer(20.0))
    assert fits_within(disc.difference(Point(0.0, 0.0).buffer(40.0)), STILL, room)
    assert not fits_within(disc, STILL, room)


@settings(max_examples=40, deadline=None)
@given(RADII, RADII, st.floats(-80.0, 80.0), st.sampled_from([0.0, 30.0, 90.0, 200.0]))
def test_what_lies_within_is_said_to_fit(
    part: list[float], more: list[float], x_mm: float, turn_deg: float
) -> None:
    one = star(np.array(part))
    there = translate(rotate(one, turn_deg, origin=(0.0, 0.0)), x_mm, 7.0)
    room = shapely.union_all([there, star(np.array(more))])
    assert fits_within(one, [rotation(15.0), rotation(turn_deg)], room)


@settings(max_examples=40, deadline=None)
@given(RADII, RADII)
def test_what_is_said_not_to_fit_has_no_place(part: list[float], room: list[float]) -> None:
    one, within = star(np.array(part)), star(np.array(room))
    assume(one.area < within.area)
    if fits_within(one, STILL, within):
        return
    moves = np.linspace(-40.0, 40.0, 25)
    assert not any(within.covers(translate(one, x, y)) for x in moves for y in moves)
