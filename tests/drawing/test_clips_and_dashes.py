"""Lines cut along clips and into dashes keep their length, their direction and their curves.

Lengths and areas are compared with shapely's own and with closed forms.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.clipping import clipped_area, clipped_lines, clipped_shape, holds
from kerfwright.drawing.dashes import dash_count, dashed, user_lengths
from kerfwright.drawing.model import Paint, Shape
from kerfwright.drawing.stretches import stretch
from kerfwright.geometry.affine import Affine, scaling
from kerfwright.geometry.curves import Arc, Span
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import filled

EDGE = 0.02
"""Slack of a length in mm: a line is cut a micrometre outside its clip, at each end."""


def circle(radius_mm: float = 10.0) -> Path:
    arc = Arc((0.0, 0.0), radius_mm, 0.0, math.tau)
    points = arc.points(0.01)
    return Path(points[:-1], True, (Span(0, len(points) - 1, arc),))


def square(size: float = 10.0) -> Path:
    return Path(np.array([[0.0, 0.0], [size, 0.0], [size, size], [0.0, size]]), closed=True)


def require_spans_on_their_points(path: Path) -> None:
    line = path.line
    for span in path.spans:
        assert isinstance(span.curve, Arc)
        for i in range(span.first, span.last + 1):
            share = (i - span.first) / span.steps
            assert line[i] == pytest.approx(np.array(span.curve.at(share)), abs=1e-9)


points = st.floats(-20.0, 20.0, allow_subnormal=False).map(lambda value: round(value, 2))
lines = st.lists(st.tuples(points, points), min_size=3, max_size=12, unique=True)


@given(lines, st.booleans())
def test_what_lies_inside_and_outside_is_the_whole(
    xy: list[tuple[float, float]], loop: bool
) -> None:
    path = Path(np.array(xy), closed=loop)
    inside = shapely.box(-7.03, -5.07, 8.01, 30.09)
    outside = shapely.difference(shapely.box(-99, -99, 99, 99), inside)
    kept = clipped_lines([path], inside)
    rest = clipped_lines([path], outside)
    slack = EDGE * len(path.line)
    total = sum(piece.length_mm for piece in (*kept, *rest))
    assert total == pytest.approx(path.length_mm, abs=slack)
    expected = shapely.intersection(shapely.LineString(path.line), inside).length
    crossing_twice = sum(piece.length_mm for piece in kept) - expected
    assert crossing_twice >= -slack


@given(lines, st.sampled_from(["nonzero", "evenodd"]))
def test_areas_are_cut_exactly(xy: list[tuple[float, float]], rule: str) -> None:
    path = Path(np.array(xy), closed=True)
    clip = shapely.Point(1.0, 2.0).buffer(9.0)
    area = filled([path], rule)  # type: ignore[arg-type]
    kept = clipped_area([path], rule, clip)  # type: ignore[arg-type]
    expected = shapely.intersection(area, clip).area
    for after in ("nonzero", "evenodd"):
        if holds(clip, [path]) and after != rule:
            continue
        found = filled(kept, after)  # type: ignore[arg-type]
        assert found.area == pytest.approx(expected, abs=0.01)


def test_a_closed_line_falls_into_open_ones_in_its_own_direction() -> None:
    (piece,) = clipped_lines([square()], shapely.box(-1, -1, 5, 20))
    assert not piece.closed
    assert np.allclose(piece.points, [[5, 10], [0, 10], [0, 0], [5, 0]], atol=0.002)


def test_a_cut_circle_keeps_its_arcs() -> None:
    (piece,) = clipped_lines([circle()], shapely.box(0.3, -20, 20, 20))
    assert piece.length_mm == pytest.approx(2 * 10 * math.acos(0.03), abs=0.01)
    assert sum(span.steps for span in piece.spans) >= len(piece.points) - 3
    require_spans_on_their_points(piece)


def test_what_is_not_cut_is_left_as_it_is() -> None:
    ring = circle()
    clip = shapely.box(-10, -10, 10, 10)
    assert clipped_lines([ring], clip) == (ring,)
    assert clipped_area([ring], "nonzero", clip) == (ring,)
    shape = Shape("ring", (ring,), "Cut", Paint("#000000", "#ff0000", 0.1))
    assert clipped_shape(shape, clip) == (shape,)
    assert clipped_shape(shape, shapely.box(30, 30, 40, 40)) == ()


def test_a_line_along_the_edge_of_its_clip_stays() -> None:
    assert clipped_lines([square()], shapely.box(0, 0, 10, 10))[0].closed


def test_line_and_area_part() -> None:
    shape = Shape("plate", (square(),), "Cut", Paint("#000000", "#ff0000", 0.1, "evenodd"), 4)
    area, line = clipped_shape(shape, shapely.box(5, -1, 20, 20))
    assert area.paint == Paint("#000000", fill_rule="evenodd")
    assert line.paint == Paint(None, "#ff0000", 0.1, "evenodd")
    assert (area.name, line.name) == ("plate", "plate (line)")
    assert {area.layer, line.layer} == {"Cut"}
    assert filled(area.paths, "evenodd").area == pytest.approx(50.0)
    assert line.length_mm == pytest.approx(20.0, abs=EDGE)


def test_a_closed_line_left_and_met_again_within_one_step() -> None:
    triangle = Path(np.array([[0.0, -6.0], [8.0, -6.0], [9.0, 0.0]]), closed=True)
    hole = shapely.difference(shapely.box(-99, -99, 99, 99), shapely.box(-7, -5, 8, 30))
    (piece,) = clipped_lines([triangle], hole)
    inside = shapely.intersection(shapely.LineString(triangle.line), hole).length
    assert piece.length_mm == pytest.approx(inside, abs=EDGE)


@given(st.floats(0, 62.5), st.floats(0.001, 62.0))
def test_a_stretch_has_the_length_between_its_places(start: float, length: float) -> None:
    ring = circle(3.0)
    count = len(ring.points)
    start = start % count
    piece = stretch(ring, start, min(start + length, start + count))
    step_mm = ring.length_mm / count
    assert piece.length_mm == pytest.approx(min(length, count) * step_mm, abs=1e-9)
    require_spans_on_their_points(piece)


lengths = st.lists(st.floats(0.5, 9.0), min_size=1, max_size=5)


@given(lengths, st.floats(-30.0, 30.0))
def test_dashes_have_their_lengths(pattern: list[float], phase: float) -> None:
    line = Path(np.array([[0.0, 0.0], [60.0, 0.0]]))
    along = user_lengths(line, Affine())
    dashes = dashed(line, along, pattern, phase)
    assert len(dashes) <= dash_count(along, pattern)
    # by walking along the line in small steps, as the standard words it
    turns = pattern * 2 if len(pattern) % 2 else pattern
    edges = np.cumsum(turns)
    x = np.arange(0.005, 60.0, 0.01)
    inked = np.searchsorted(edges, (x + phase) % edges[-1], side="right") % 2 == 0
    covered = np.zeros(len(x), dtype=bool)
    for dash in dashes:
        low, high = dash.points[:, 0].min(), dash.points[:, 0].max()
        covered |= (x >= low) & (x <= high)
    assert (covered != inked).sum() <= 2 * len(dashes) + 4


def test_a_dash_over_the_start_of_a_closed_line_stays_one() -> None:
    ring = square()
    dashes = dashed(ring, user_lengths(ring, Affine()), [8.0, 2.0], 4.0)
    assert len(dashes) == 4
    assert [dash.length_mm for dash in dashes] == pytest.approx([8.0] * 4)
    assert dashes[0].points[0].tolist() == pytest.approx([0.0, 4.0])


def test_dashes_are_measured_in_the_units_they_are_given_in() -> None:
    line = Path(np.array([[0.0, 0.0], [40.0, 0.0]]))
    to_user = scaling(0.5, 7.0)
    dashes = dashed(line, user_lengths(line, to_user), [5.0], 0.0)
    assert [dash.length_mm for dash in dashes] == pytest.approx([10.0, 10.0])


def test_a_pattern_longer_than_the_line_leaves_it_whole() -> None:
    ring = circle()
    assert dashed(ring, user_lengths(ring, Affine()), [100.0, 5.0], 1.0) == [ring]
    assert dashed(ring, user_lengths(ring, Affine()), [5.0, 100.0], 20.0) == []
