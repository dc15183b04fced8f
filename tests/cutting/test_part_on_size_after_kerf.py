"""The beam takes half a kerf on each side; what is left has the size that was drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from cut_parts import KERF_MM, circle, closed, cut, left_by, part, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.cutting.kerf import compensated
from kerfwright.geometry.paths import Path

WITHIN_MM = 1e-3

FLOWER = [
    ((20.0 + 5.0 * math.sin(5 * a)) * math.cos(a), (20.0 + 5.0 * math.sin(5 * a)) * math.sin(a))
    for a in np.linspace(0.0, 2.0 * math.pi, 3000, endpoint=False)
]
STAR = [
    (r * math.cos(a), r * math.sin(a))
    for r, a in zip([20.0, 6.0] * 7, np.arange(14) * math.pi / 7, strict=True)
]
SHAPES = {
    "square": rectangle(0.0, 0.0, 50.0),
    "concave": [(0, 0), (30, 0), (30, 30), (20, 30), (20, 10), (10, 10), (10, 30), (0, 30)],
    "spiky": STAR,
    "needle": [(0, 0), (40, 0), (40, 4), (0, 0.5)],
    "circle": circle(0.0, 0.0, 15.0),
    "curved, many points": FLOWER,
}


def off_size_mm(left: shapely.Geometry, wanted: shapely.Geometry) -> float:
    """How far the edge of what is left lies from the edge wanted, sampled both ways."""

    def furthest(one: shapely.Geometry, other: shapely.Geometry) -> float:
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(one, 0.2)))
        shapely.prepare(other)
        return float(shapely.distance(points, other).max())

    return max(furthest(left.boundary, wanted.boundary), furthest(wanted.boundary, left.boundary))


@pytest.mark.parametrize("kerf_mm", [0.05, 0.2, 0.5])
@pytest.mark.parametrize("name", SHAPES)
def test_what_the_beam_leaves_is_the_part(name: str, kerf_mm: float) -> None:
    wanted = part(SHAPES[name])
    beam, findings = compensated(wanted, kerf_mm)
    left = left_by(beam.outline, kerf_mm)
    # a round beam leaves a fillet of its radius in a sharp inner corner, and no compensation helps
    rounded = wanted.polygon.buffer(kerf_mm / 2, quad_segs=64).buffer(-kerf_mm / 2, quad_segs=64)
    assert off_size_mm(left, rounded) <= WITHIN_MM
    assert left.difference(wanted.polygon.buffer(WITHIN_MM)).area <= kerf_mm**2 * len(SHAPES)
    assert not findings


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(5, 40), min_size=5, max_size=24), st.sampled_from([0.1, 0.2, 0.4]))
def test_nothing_of_any_part_is_burned_away(radii: list[int], kerf_mm: float) -> None:
    angles = np.linspace(0.0, 2.0 * np.pi, len(radii), endpoint=False)
    corners = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]
    wanted = part(corners.tolist())
    beam, _ = compensated(wanted, kerf_mm)
    left = left_by(beam.outline, kerf_mm)
    rounded = wanted.polygon.buffer(kerf_mm / 2, quad_segs=64).buffer(-kerf_mm / 2, quad_segs=64)
    assert wanted.polygon.difference(left.buffer(WITHIN_MM)).area < 1e-6
    assert left.difference(rounded.buffer(WITHIN_MM)).area < 1e-6


def test_holes_are_cut_inside_their_line() -> None:
    plate = part(rectangle(0, 0, 40), circle(20, 20, 8.0), rectangle(2, 2, 5))
    beam, _ = compensated(plate, KERF_MM)
    for hole, run in zip(plate.holes, beam.holes, strict=True):
        drawn, inside = shapely.Polygon(hole.points), shapely.Polygon(run.points)
        assert drawn.contains(inside)
        assert drawn.boundary.distance(inside) == pytest.approx(KERF_MM / 2, abs=WITHIN_MM)
        burned = shapely.linestrings(run.line).buffer(KERF_MM / 2, quad_segs=64)
        assert burned.difference(drawn.buffer(WITHIN_MM)).is_empty


def test_slits_run_on_their_line() -> None:
    slit = Path(np.array([(5.0, 5.0), (25.0, 6.0), (30.0, 20.0)]))
    beam, _ = compensated(part(rectangle(0, 0, 40), slits=(slit,)), KERF_MM)
    assert beam.slits == (slit,)


def test_without_a_kerf_the_beam_runs_on_the_line() -> None:
    beam, findings = compensated(part(SHAPES["concave"]), 0.0)
    assert shapely.Polygon(beam.outline[0].points).equals(shapely.Polygon(SHAPES["concave"]))
    assert not findings


def test_direction_of_drawing_does_not_matter() -> None:
    drawn = part(rectangle(0, 0, 20))
    backwards = part(rectangle(0, 0, 20)[::-1])
    one, other = (compensated(p, KERF_MM)[0].outline[0] for p in (drawn, backwards))
    assert abs(one.signed_area_mm2) == pytest.approx(abs(other.signed_area_mm2))
    assert abs(one.signed_area_mm2) == pytest.approx((20 + KERF_MM) ** 2)


def test_blanks_are_not_cut() -> None:
    blank = part(rectangle(0, 0, 20), rectangle(5, 5, 5), blank=True)
    kept = part(rectangle(30, 0, 20))
    work = cut([blank, kept])
    assert {stroke.source for stroke in work.strokes} == {1}
    assert work.cut_mm == pytest.approx(closed(rectangle(0, 0, 20 + KERF_MM)).length_mm)
    assert not cut([blank]).strokes
