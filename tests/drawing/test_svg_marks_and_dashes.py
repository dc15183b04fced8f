"""Marks on lines and dashes are read as they are drawn, and told.

SVG 1.1 chapter 11, SVG 2 chapter 13. What they look like is compared with another library in
``tests/outside/test_svg_corpus.py``; here is what that library does not do, and what is told.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_bodies import read

from kerfwright.drawing.dashes import DUST, dashed, user_lengths
from kerfwright.drawing.model import Drawing
from kerfwright.drawing.svg.marker import corners_of
from kerfwright.drawing.svg.path_data import parse_path
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import Path as Line

LINE = 'fill="none" stroke="black"'


def found(drawing: Drawing) -> dict[str, int]:
    return {finding.code.removeprefix("drawing/"): finding.count for finding in drawing.findings}


def stretches(drawing: Drawing) -> list[tuple[float, float]]:
    """From where to where along x the pieces of the first shape run."""
    return [(float(p.points[0, 0]), float(p.points[-1, 0])) for p in drawing.shapes[0].paths]


@pytest.mark.parametrize(
    ("attributes", "expected"),
    [
        ('stroke-dasharray="30 20"', [(0, 30), (50, 80)]),
        ('stroke-dasharray="30,20,10"', [(0, 30), (50, 60), (90, 100)]),
        ('stroke-dasharray="50"', [(0, 50)]),
        ('stroke-dasharray="40" stroke-dashoffset="30"', [(0, 10), (50, 90)]),
        ('stroke-dasharray="40" stroke-dashoffset="-30"', [(30, 70)]),
        ('stroke-dasharray="40%"', [(0, 40), (80, 100)]),
        ('stroke-dasharray="1 1" pathLength="5"', [(0, 20), (40, 60), (80, 100)]),
        ('style="stroke-dasharray:20px, 30px"', [(0, 20), (50, 70)]),
        ('stroke-dasharray="40 0 20 40"', [(0, 60)]),
        ('stroke-dasharray="0 0"', [(0, 100)]),
        ('stroke-dasharray="20 -5"', [(0, 100)]),
        ('stroke-dasharray="none"', [(0, 100)]),
        ('stroke-dasharray="1000 10"', [(0, 100)]),
        ('stroke-dasharray="0 50 10 40"', [(50, 60)]),
    ],
)
def test_dashes_along_a_line(
    tmp_path: Path, attributes: str, expected: list[tuple[float, float]]
) -> None:
    drawing = read(tmp_path, f'<path {LINE} {attributes} d="M0 10H100"/>')
    np.testing.assert_allclose(stretches(drawing), expected, atol=1e-9)
    whole = expected == [(0, 100)]
    assert found(drawing) == ({} if whole else {"dashes": 1})


def test_dashes_are_measured_before_the_transform_stretches_them(tmp_path: Path) -> None:
    drawing = read(
        tmp_path, f'<g transform="scale(2 1)"><path {LINE} stroke-dasharray="10" d="M0 9H50"/></g>'
    )
    np.testing.assert_allclose(stretches(drawing), [(0, 20), (40, 60), (80, 100)], atol=1e-9)


def test_every_subpath_begins_anew(tmp_path: Path) -> None:
    drawing = read(tmp_path, f'<path {LINE} stroke-dasharray="30" d="M0 10H40M50 10H90"/>')
    np.testing.assert_allclose(stretches(drawing), [(0, 30), (50, 80)], atol=1e-9)


def test_a_dash_over_the_start_of_a_closed_line_is_one(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f'<rect {LINE} stroke-dasharray="20" stroke-dashoffset="10" x="10" y="10" '
        'width="30" height="30"/>',
    )
    lengths = [path.length_mm for path in drawing.shapes[0].paths]
    assert lengths == pytest.approx([20, 20, 20])


@pytest.mark.parametrize(
    ("shape", "why"),
    [
        ('<rect stroke="red" fill="blue" stroke-dasharray="5" width="50" height="50"/>', "area"),
        (f'<path {LINE} stroke-dasharray="0 5" stroke-linecap="round" d="M0 0H50"/>', "dots"),
        (f'<path {LINE} stroke-dasharray="1e-5" d="M0 0H50"/>', "more than"),
    ],
)
def test_dashes_that_cannot_be_lines_are_told(tmp_path: Path, shape: str, why: str) -> None:
    drawing = read(tmp_path, shape)
    assert len(drawing.shapes[0].paths) == 1
    assert found(drawing) == {"dashes-unbroken": 1}
    assert why in drawing.findings[0].what


@given(
    steps=st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=8),
    lengths=st.lists(st.floats(0.5, 30), min_size=1, max_size=4).map(lambda one: one + one),
    offset=st.floats(-100, 100),
    closed=st.booleans(),
)
def test_dashes_and_gaps_together_are_the_line(
    steps: list[tuple[float, float]], lengths: list[float], offset: float, closed: bool
) -> None:
    path = Line(np.cumsum(np.array([(0.0, 0.0), *steps]), axis=0), closed)
    along = user_lengths(path, Affine())
    dashes = dashed(path, along, lengths, offset)
    first_gap = offset - lengths[0]
    gaps = dashed(path, along, (*lengths[1:], lengths[0]), first_gap)
    total = sum(piece.length_mm for piece in (*dashes, *gaps))
    # what is left at the ends is dust, and may be dropped from either
    assert total == pytest.approx(path.length_mm, abs=1e-6 + 2.0 * DUST * sum(lengths))


def directions(data: str) -> list[float]:
    outlines, fault = parse_path(data)
    assert fault is None
    return [round(corner.direction_deg, 3) % 360.0 for corner in corners_of(outlines)]


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("M0 0H10", [0, 0]),
        ("M0 0H10V10", [0, 45, 90]),
        ("M0 0C0 5 5 10 10 10", [90, 0]),
        ("M0 0C0 0 0 5 10 5", [90, 0]),
        ("M0 0Q10 0 10 10", [0, 90]),
        ("M0 0A10 10 0 0 1 20 0", [270, 90]),
        ("M0 0A10 10 0 0 0 10 10", [90, 0]),
        ("M0 0V0H10", [0, 0, 0]),
        ("M0 0H10H10V10", [0, 0, 45, 90]),
        ("M0 0H10V10H0Z", [315, 45, 135, 225, 315]),
        ("M0 0H10M20 0V10", [0, 0, 90, 90]),
        ("M5 5", [0]),
    ],
)
def test_marks_turn_halfway_between_the_way_in_and_the_way_out(
    data: str, expected: list[float]
) -> None:
    """SVG 2 section 13.7, and "path directionality" for where a path closes; 1.1 appendix F.5."""
    assert directions(data) == expected


ARROW = (
    '<marker id="m" viewBox="0 0 10 10" refX="10" refY="5" markerWidth="5" markerHeight="5" '
    'orient="auto"><path d="M0 0L10 5L0 10z"/></marker>'
)


def test_marks_are_shapes_of_their_own_on_the_layer_of_their_line(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f'{ARROW}<g id="Score"><path id="way" {LINE} stroke-width="2" marker-end="url(#m)" '
        'd="M10 50H60"/></g>',
    )
    arrow, line = sorted(drawing.shapes, key=lambda shape: shape.name != "way mark")
    assert (arrow.name, arrow.layer, line.layer) == ("way mark", "Score", "Score")
    assert arrow.paths[0].bounds_mm == pytest.approx((50, 45, 60, 55))
    assert found(drawing) == {"marker": 1}


def test_marks_can_take_the_colours_of_their_line(tmp_path: Path) -> None:
    """SVG 2 section 13.2, context-fill and context-stroke."""
    marker = ARROW.replace("<path ", '<path fill="context-stroke" ')
    drawing = read(tmp_path, f'{marker}<path stroke="#123456" marker-end="url(#m)" d="M9 9H60"/>')
    assert {shape.name: shape.paint.fill for shape in drawing.shapes}["path 1 mark"] == "#123456"


def test_marks_on_marks_come_to_an_end(tmp_path: Path) -> None:
    marker = (
        '<marker id="m"><path d="M0 0H2V2z" marker-end="url(#m)"/></marker>'
        '<path stroke="red" marker-end="url(#m)" d="M9 9H60"/>'
    )
    assert len(read(tmp_path, marker).shapes) == 2


def test_a_mark_that_is_not_there_is_told(tmp_path: Path) -> None:
    drawing = read(tmp_path, f'<path {LINE} marker-end="url(#m)" d="M9 9H60"/>')
    assert found(drawing) == {"missing-reference": 1}


@pytest.mark.parametrize("data", ["M10 25H70", "M10 10L30 30L50 50", "M10 10H50H20", "M9 9L40 9z"])
def test_a_straight_line_shows_no_fill(tmp_path: Path, data: str) -> None:
    """SVG 1.1 section 11.3: a fill paints the inside, and a straight line has none."""
    dashes = 'stroke-dasharray="2 1"'
    plain, dotted = read(
        tmp_path, f'<path d="{data}" stroke="red"/><path d="{data}" stroke="red" {dashes}/>'
    ).shapes
    assert (plain.paint.fill, plain.paint.stroke) == (None, "#ff0000")
    assert len(dotted.paths) > 10
    bent = read(tmp_path, f'<path d="{data.rstrip("z")}V90" stroke="red"/>').shapes[0]
    assert bent.paint.fill == "#000000"


def test_dashes_say_so_and_lines_that_stay_whole_do_not(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f'<path {LINE} stroke-dasharray="3 .4" d="M0 10H90"/>'
        f'<path {LINE} stroke-dasharray="300 4" d="M0 20H90"/><path {LINE} d="M0 30H90"/>',
    )
    assert [shape.paint.dashed for shape in drawing.shapes] == [True, False, False]
