"""Runs of tiny straight pieces become the arcs that they were made from, and nothing else does."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.geometry.affine import rotation, translation
from kerfwright.geometry.arc_fit import with_arcs_fitted
from kerfwright.geometry.curves import Arc
from kerfwright.geometry.paths import Path

TOLERANCE_MM = 0.01
DECIMALS = 4
"""What drawing programs commonly write."""


def arcs(path: Path) -> list[Arc]:
    return [span.curve for span in path.spans if isinstance(span.curve, Arc)]


@given(
    st.floats(0.5, 300.0),
    st.floats(0.0, 6.28),
    st.floats(0.5, 3.1),
    st.sampled_from([-1.0, 1.0]),
)
def test_a_chopped_arc_is_found_again(
    radius: float, start: float, sweep: float, way: float
) -> None:
    """The arc that the points were computed from by sine and cosine is the outside truth."""
    true = Arc((150.0, -40.0), radius, start, way * sweep)
    chopped = Path(true.points(0.004).round(DECIMALS))
    if len(chopped.points) < 9:
        return
    found = arcs(with_arcs_fitted(chopped, TOLERANCE_MM))
    assert len(found) == 1
    middle = found[0].at(0.5)
    assert math.dist(middle, true.at(0.5)) < 1e-3
    assert found[0].sweep_rad * way > 0.0
    assert found[0].length_mm == pytest.approx(true.length_mm, rel=1e-3)


@pytest.mark.parametrize("turn", [0.0, 17.0, 90.0])
def test_the_corners_of_a_rounded_plate_are_four_arcs_wherever_its_outline_begins(
    turn: float,
) -> None:
    corners = [
        ((70.0, 40.0), 0.0),
        ((10.0, 40.0), 90.0),
        ((10.0, 10.0), 180.0),
        ((70.0, 10.0), 270.0),
    ]
    pieces = [Arc(at, 6.0, math.radians(deg), math.pi / 2).points(0.004) for at, deg in corners]
    plate = Path(np.concatenate(pieces).round(DECIMALS), closed=True)
    plate = plate.transformed(translation(3.0, 5.0) @ rotation(turn)).entered_at(13)
    fitted = with_arcs_fitted(plate, TOLERANCE_MM)
    assert [arc.radius_mm for arc in arcs(fitted)] == pytest.approx([6.0] * 4, abs=2e-3)
    assert fitted.closed
    true_area = 72.0 * 42.0 - (4.0 - math.pi) * 36.0
    assert abs(fitted.signed_area_mm2) == pytest.approx(true_area, rel=1e-4)


def test_a_chopped_circle_becomes_two_arcs() -> None:
    circle = Path(Arc((0.0, 0.0), 20.0, 1.0, 2.0 * math.pi).points(0.005)[:-1], closed=True)
    found = arcs(with_arcs_fitted(circle, TOLERANCE_MM))
    assert len(found) == 2
    assert sum(abs(arc.sweep_rad) for arc in found) == pytest.approx(2.0 * math.pi)


@pytest.mark.parametrize("sides", [3, 6, 12, 24])
def test_a_polygon_that_is_meant_as_one_stays_one(sides: int) -> None:
    angles = np.arange(sides) * 2.0 * math.pi / sides
    polygon = Path(np.column_stack([30.0 * np.cos(angles), 30.0 * np.sin(angles)]), closed=True)
    assert with_arcs_fitted(polygon, TOLERANCE_MM) is polygon


def test_a_straight_line_of_many_points_stays_straight() -> None:
    line = Path(np.column_stack([np.linspace(0.0, 80.0, 200), np.linspace(0.0, 30.0, 200)]))
    assert with_arcs_fitted(line, TOLERANCE_MM) is line


@given(st.integers(0, 2**32 - 1), st.floats(0.002, 2.0), st.booleans())
def test_no_line_strays_further_than_the_tolerance(seed: int, wild: float, closed: bool) -> None:
    """Any wandering line, measured by GEOS: Hausdorff distance both ways."""
    random = np.random.default_rng(seed)
    heading = np.cumsum(random.normal(0.0, wild, 300))
    steps = random.uniform(0.05, 0.6, (300, 1)) * np.column_stack(
        [np.cos(heading), np.sin(heading)]
    )
    path = Path(np.cumsum(steps, axis=0), closed)
    fitted = with_arcs_fitted(path, TOLERANCE_MM)
    before, after = shapely.LineString(path.line), shapely.LineString(fitted.line)
    distance = shapely.hausdorff_distance(before, after, densify=0.2)
    assert distance <= 2.0 * TOLERANCE_MM + 1e-9  # the fit, and the chords of the new points
    if not closed:
        assert fitted.points[[0, -1]] == pytest.approx(path.points[[0, -1]])


@given(st.integers(0, 2**32 - 1))
def test_fitting_again_changes_nothing(seed: int) -> None:
    random = np.random.default_rng(seed)
    heading = np.cumsum(random.normal(0.0, 0.05, 400))
    path = Path(np.cumsum(0.2 * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0))
    once = with_arcs_fitted(path, TOLERANCE_MM)
    twice = with_arcs_fitted(once, TOLERANCE_MM)
    assert twice.points == pytest.approx(once.points)
