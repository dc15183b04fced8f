"""Corners of inner loops are rounded as far as the spot covers what is cut off."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, box

from axis_limits import limits
from engraved_shapes import square
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.offsets import Levels, curve_tolerance_mm, levels_of
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine

INTERVAL_MM = 0.1
MACHINE = Machine(
    name="trial machine",
    bed_width_mm=900.0,
    bed_height_mm=600.0,
    power_w=60.0,
    travel=limits(1000.0, 3100.0),
    cutting=limits(1000.0, 3100.0),
    scanning=limits(1000.0, 16000.0),
    invented=True,
)


def burn(spot_mm: float) -> Burn:
    return Burn(800.0, 0.5, INTERVAL_MM, spot_mm, 0)


def levels(area: shapely.MultiPolygon, spot_mm: float, machine: Machine | None) -> Levels:
    tolerance = curve_tolerance_mm(burn(spot_mm), MACHINE.junction_deviation_mm)
    return levels_of(area, burn(spot_mm), tolerance, machine=machine)


def cut_off_mm(area: shapely.MultiPolygon, spot_mm: float) -> list[float]:
    """How far the loops of each level stay behind the corners of the exact ones."""
    sharp, rounded = (levels(area, spot_mm, machine).levels for machine in (None, MACHINE))
    far = []
    for exact, rings in zip(sharp, rounded, strict=True):
        lines = shapely.union_all([shapely.linearrings(ring) for ring in rings])
        far.append(float(shapely.distance(shapely.points(np.vstack(exact)), lines).max()))
    return far


def test_outermost_loop_stays_sharp() -> None:
    assert cut_off_mm(square(12.0), 0.2)[0] == 0.0


def test_square_corners_get_rounder_by_what_the_spot_leaves() -> None:
    """From loop to loop by spot - i·√2, less what two lines may stray (three times 0.005 mm)."""
    grown = np.diff(cut_off_mm(square(20.0), 0.2)[:12])
    assert grown.max() <= 0.2 - INTERVAL_MM * np.sqrt(2.0)
    assert grown.mean() == pytest.approx(0.185 - INTERVAL_MM * np.sqrt(2.0), abs=0.004)


@pytest.mark.parametrize("spot_mm", [0.1, 0.12, 0.14])
def test_square_corners_stay_sharp_where_the_spot_leaves_nothing(spot_mm: float) -> None:
    assert max(cut_off_mm(square(6.0), spot_mm)) == 0.0


def test_nothing_is_rounded_that_gives_no_speed() -> None:
    """A junction deviation wider than any arc cuts off lets the machine through the corners."""
    loose = MACHINE.model_copy(update={"junction_deviation_mm": 50.0})
    exact = levels(square(6.0), 0.2, None)
    assert all(
        np.array_equal(a, b)
        for one, two in zip(exact.levels, levels(square(6.0), 0.2, loose).levels, strict=True)
        for a, b in zip(one, two, strict=True)
    )


def test_a_square_takes_a_fifth_less_with_a_wide_spot() -> None:
    """25 mm, spot two intervals; sharp corners are the same machine's stops."""
    plain, rounded = (
        contour_parallel(square(25.0), burn(0.2), MACHINE, sharp_corners=sharp).toolpath
        for sharp in (True, False)
    )
    assert time_toolpath(rounded, MACHINE).total_s < 0.8 * time_toolpath(plain, MACHINE).total_s


@given(
    st.lists(st.floats(2.0, 5.0), min_size=3, max_size=9),
    st.sampled_from([0.11, 0.12, 0.15, 0.2]),
)
def test_what_rounding_leaves_is_little_and_is_closed(reach: list[float], spot_mm: float) -> None:
    """Any star-shaped outline: slivers where corners run into one another, burned as all remains
    are.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, len(reach), endpoint=False)
    at = np.array(reach)
    outline = np.column_stack([50 + at * np.cos(angle), 50 + at * np.sin(angle)])
    area = as_area(Polygon(outline))
    sharp, rounded = (
        sum(piece.area for piece in levels(area, spot_mm, machine).remains)
        for machine in (None, MACHINE)
    )
    assert rounded <= sharp + 1e-3 * area.area
    assert contour_parallel(area, burn(spot_mm), MACHINE).uncovered_mm2 <= 5e-4 * area.area


def test_corners_that_turn_inwards_are_mitred_where_the_clock_says_so() -> None:
    """A comb has one at either side of each tooth; arcs there leave remains to be closed."""
    teeth = [box(20.0 + 6.0 * i, 28.0, 22.2 + 6.0 * i, 50.0) for i in range(6)]
    comb = as_area(shapely.union_all([box(20.0, 20.0, 52.2, 28.0), *teeth]))
    mitred = levels(comb, 0.12, MACHINE)
    exact = levels(comb, 0.12, None)
    assert sum(map(len, mitred.levels[0])) < sum(map(len, exact.levels[0]))
    as_planned, sharp = (
        contour_parallel(comb, burn(0.12), MACHINE, sharp_corners=sharp).toolpath
        for sharp in (False, True)
    )
    assert time_toolpath(as_planned, MACHINE).total_s <= (
        1.001 * time_toolpath(sharp, MACHINE).total_s
    )


def test_a_wide_spot_keeps_the_rounded_corners_of_a_frame_round_a_hole() -> None:
    """What mitring saves at four corners is less than rounding saves at all the others."""
    hole = box(44.0, 44.0, 56.0, 56.0)
    frame = as_area(box(40.0, 40.0, 60.0, 60.0).difference(hole))
    assert max(cut_off_mm(frame, 0.2)) > 0.01
