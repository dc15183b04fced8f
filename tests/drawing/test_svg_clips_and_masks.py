"""Clips, masks and frames take away what they hide, and it is told.

SVG 1.1 chapter 14, CSS Masking 1. What many clips look like is compared with another library in
``tests/outside/test_svg_corpus.py``.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_bodies import read

from kerfwright.drawing.model import Drawing
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Severity
from kerfwright.geometry.regions import filled

LINE = 'fill="none" stroke="black"'


def found(drawing: Drawing) -> dict[str, int]:
    return {finding.code.removeprefix("drawing/"): finding.count for finding in drawing.findings}


def area_mm2(drawing: Drawing) -> float:
    return sum(filled(shape.paths, shape.paint.fill_rule).area for shape in drawing.shapes)


def test_an_area_is_cut_to_what_shows(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><circle cx="50" cy="50" r="20"/></clipPath>'
        '<rect clip-path="url(#c)" x="50" width="50" height="100"/>'
    )
    drawing = read(tmp_path, body)
    assert area_mm2(drawing) == pytest.approx(math.pi * 20**2 / 2, rel=1e-3)
    assert found(drawing) == {"clipped": 1}
    assert drawing.findings[0].severity is Severity.NOTE


def test_a_line_is_cut_into_open_pieces(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><path clip-rule="evenodd" d="M10 10H90V90H10zM40 40H60V60H40z"/>'
        f'</clipPath><path {LINE} clip-path="url(#c)" d="M0 50H100"/>'
    )
    drawing = read(tmp_path, body)
    ends = sorted(tuple(path.points[:, 0]) for path in drawing.shapes[0].paths)
    np.testing.assert_allclose(ends, [(10, 40), (60, 90)], atol=0.002)
    assert not any(path.closed for path in drawing.shapes[0].paths)


def test_a_closed_line_keeps_its_start_in_one_piece(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><rect x="0" y="0" width="50" height="100"/></clipPath>'
        f'<rect {LINE} clip-path="url(#c)" x="20" y="20" width="60" height="60"/>'
    )
    (piece,) = read(tmp_path, body).shapes[0].paths
    assert piece.length_mm == pytest.approx(30 + 60 + 30, abs=0.01)


def test_a_line_along_the_edge_of_its_clip_stays_whole(tmp_path: Path) -> None:
    """Drawing programs clip a page by its own frame."""
    body = (
        '<clipPath id="c"><path d="M50 10A40 40 0 0 1 50 90A40 40 0 0 1 50 10"/></clipPath>'
        f'<circle {LINE} clip-path="url(#c)" cx="50" cy="50" r="40"/>'
    )
    drawing = read(tmp_path, body)
    assert found(drawing) == {}
    assert drawing.shapes[0].paths[0].closed


def test_what_is_not_cut_keeps_its_curves(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><rect width="100" height="100"/></clipPath>'
        '<circle clip-path="url(#c)" cx="50" cy="50" r="40"/>'
    )
    assert read(tmp_path, body).shapes[0].paths[0].spans


def test_an_area_around_a_hole_of_the_clip_is_cut(tmp_path: Path) -> None:
    """Its edge lies inside the clip all the way round."""
    body = (
        '<clipPath id="c"><path clip-rule="evenodd" d="M0 0H100V100H0zM40 40H60V60H40z"/>'
        '</clipPath><rect clip-path="url(#c)" x="10" y="10" width="80" height="80"/>'
    )
    assert area_mm2(read(tmp_path, body)) == pytest.approx(80 * 80 - 20 * 20)


def test_a_filled_shape_with_a_line_stays_one_shape_and_its_edge_is_told(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><rect width="50" height="100"/></clipPath>'
        '<rect id="lid" fill="red" stroke="blue" clip-path="url(#c)" x="20" y="20" width="60" '
        'height="60"/>'
    )
    drawing = read(tmp_path, body)
    (shape,) = drawing.shapes
    assert (shape.paint.fill, shape.paint.stroke) == ("#ff0000", "#0000ff")
    assert area_mm2(drawing) == pytest.approx(30 * 60)
    assert found(drawing) == {"clipped": 1, "clipped-edge": 1}


def test_a_line_round_white_is_cut_as_a_line(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><rect width="50" height="100"/></clipPath>'
        '<rect fill="white" stroke="blue" clip-path="url(#c)" x="20" y="20" width="60" '
        'height="60"/>'
    )
    drawing = read(tmp_path, body)
    assert [path.closed for path in drawing.shapes[0].paths] == [False]
    assert found(drawing) == {"clipped": 1}


def test_what_lies_outside_is_left_out_and_counted(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><rect width="50" height="100"/></clipPath><g clip-path="url(#c)">'
        f'<rect x="60" width="9" height="9"/><path {LINE} d="M70 0V9"/><circle r="9" cx="20" '
        'cy="20"/></g>'
    )
    drawing = read(tmp_path, body)
    assert len(drawing.shapes) == 1
    assert found(drawing) == {"clipped-away": 2}


def test_if_a_clip_hides_everything_the_error_says_so(tmp_path: Path) -> None:
    body = '<clipPath id="c"/><rect clip-path="url(#c)" width="9" height="9"/>'
    with pytest.raises(KerfwrightError, match="1 shape lies outside its clip"):
        read(tmp_path, body)


@pytest.mark.parametrize(
    ("body", "slug"),
    [
        ('<rect clip-path="url(#no)" width="9" height="9"/>', "missing-reference"),
        ('<rect mask="url(#no)" width="9" height="9"/>', "missing-reference"),
        ('<g id="g"/><rect clip-path="url(#g)" width="9" height="9"/>', "missing-reference"),
        ('<rect clip-path="circle(5px)" width="9" height="9"/>', "clip-path"),
        (
            '<clipPath id="c" clip-path="url(#c)"><rect width="9" height="9"/></clipPath>'
            '<rect clip-path="url(#c)" width="9" height="9"/>',
            "clip-path",
        ),
        (
            '<clipPath id="c"><rect id="r" clip-path="url(#c)" width="9" height="9"/></clipPath>'
            '<rect clip-path="url(#c)" width="9" height="9"/>',
            "clip-path",
        ),
        (
            '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width="1" height="1"/>'
            f'</clipPath><path {LINE} clip-path="url(#c)" d="M0 9H9"/>',
            "clip-path",
        ),
    ],
)
def test_a_clip_that_means_nothing_takes_nothing_away(tmp_path: Path, body: str, slug: str) -> None:
    drawing = read(tmp_path, body)
    assert len(drawing.shapes) == 1
    assert set(found(drawing)) == {slug}


def test_groups_have_no_effect_in_a_clip_and_are_told(tmp_path: Path) -> None:
    """SVG 1.1 section 14.3.5: only shapes, text and direct copies of them."""
    body = (
        '<clipPath id="c"><g><rect width="90" height="90"/></g><rect width="5" height="5"/>'
        '</clipPath><rect clip-path="url(#c)" width="20" height="20"/>'
    )
    drawing = read(tmp_path, body)
    assert area_mm2(drawing) == pytest.approx(25)
    assert found(drawing) == {"clipped": 1, "clip-path": 1}


MASKS = {
    "grey": '<rect width="50" height="100" fill="#888"/>',
    "half clear": '<rect width="50" height="100" fill="white" opacity=".5"/>',
    "a blend": '<rect width="50" height="100" fill="url(#fade)"/>',
    "lines": '<rect width="50" height="100" fill="white" stroke="black"/>',
}


@pytest.mark.parametrize("name", MASKS)
def test_masks_that_fade_are_not_applied(tmp_path: Path, name: str) -> None:
    fade = '<linearGradient id="fade"><stop stop-color="white"/><stop offset="1"/></linearGradient>'
    body = f'{fade}<mask id="m">{MASKS[name]}</mask><rect mask="url(#m)" width="80" height="80"/>'
    drawing = read(tmp_path, body)
    assert area_mm2(drawing) == pytest.approx(6400)
    assert found(drawing) == {"mask": 1}


def test_a_mask_of_plain_areas_cuts_in_painting_order(tmp_path: Path) -> None:
    body = (
        '<mask id="m"><rect width="80" height="80" fill="white"/><rect width="40" height="80"/>'
        '<rect width="20" height="20" fill="#fff"/></mask>'
        '<rect mask="url(#m)" width="80" height="80"/>'
    )
    drawing = read(tmp_path, body)
    assert area_mm2(drawing) == pytest.approx(40 * 80 + 20 * 20)
    assert found(drawing) == {"clipped": 1}


def test_nested_drawings_are_cut_at_their_frames_unless_they_overflow(tmp_path: Path) -> None:
    inner = '<rect width="40" height="9"/>'
    body = (
        f'<svg width="20" height="20">{inner}</svg>'
        f'<svg y="50" width="20" height="20" overflow="visible">{inner}</svg>'
        f'<svg y="90" width="20" height="9" style="overflow:auto">{inner}</svg>'
    )
    drawing = read(tmp_path, body)
    assert area_mm2(drawing) == pytest.approx(9 * (20 + 40 + 40))
    assert found(drawing) == {"outside-viewport": 1}


def test_a_thousand_copies_of_one_clip_are_worked_out_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kerfwright.drawing.svg.read.COPIES_LIMIT", 50)
    clip = '<clipPath id="c"><circle cx="50" cy="50" r="40"/></clipPath>'
    shapes = '<rect clip-path="url(#c)" x="45" width="50" height="100"/>' * 200
    assert found(read(tmp_path, clip + shapes)) == {"clipped": 200}


@given(
    corners=st.lists(
        st.tuples(st.integers(0, 100), st.integers(0, 100)), min_size=3, max_size=7, unique=True
    ),
    box=st.tuples(*[st.integers(5, 60)] * 4),
    rule=st.sampled_from(["nonzero", "evenodd"]),
)
def test_a_clip_keeps_exactly_what_lies_in_it(
    tmp_path_factory: pytest.TempPathFactory,
    corners: list[tuple[int, int]],
    box: tuple[int, int, int, int],
    rule: str,
) -> None:
    """Whatever one clip keeps and its opposite keeps add up to the whole."""
    x, y, width, height = box
    points = " ".join(f"{a},{b}" for a, b in corners)
    shape = f'<polygon points="{points}" fill-rule="{rule}" clip-path="url(#c)"/>'
    always = '<rect x="200" width="1" height="1"/>'
    hole = f"M{x} {y}h{width}v{height}h-{width}z"
    areas = []
    for outline in ("M-9-9H300V300H-9z", hole, f"M-9-9H300V300H-9z{hole}"):
        clip = f'<clipPath id="c"><path clip-rule="evenodd" d="{outline}"/></clipPath>'
        folder = tmp_path_factory.mktemp("clip")
        areas.append(area_mm2(read(folder, clip + shape + always)) - 1.0)
    assert areas[1] + areas[2] == pytest.approx(areas[0], abs=0.3)
