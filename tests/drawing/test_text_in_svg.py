"""Text in an SVG becomes areas where the standard puts its letters.

Places are reckoned by hand from the font in ``letters.py``; the rules are those of SVG 2,
chapter 11, and CSS Text 3.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_bodies import read as read_alone

from kerfwright.drawing.lettering import findings as text_findings
from kerfwright.drawing.model import Drawing, Shape
from kerfwright.findings import Severity
from kerfwright.geometry.curves import Bezier
from kerfwright.geometry.regions import filled
from kerfwright.geometry.tolerances import CHORD_MM
from letters import FAMILY, FILE, write_font

HELP = Path(__file__).parents[2] / "docs" / "help" / "drawing.md"


def read(folder: Path, body: str) -> Drawing:
    """Read a body on a page 100 high, letters 10 mm to the em unless it says otherwise."""
    write_font(folder)
    return read_alone(folder, f'<g font-family="{FAMILY}" font-size="10">{body}</g>')


def boxes(shape: Shape) -> list[tuple[float, float, float, float]]:
    """Bounds of each contour from left to right, y upwards from the bottom of the page."""
    return sorted(path.bounds_mm for path in shape.paths)


def lefts(shape: Shape) -> list[float]:
    return [box[0] for box in boxes(shape)]


def codes(drawing: Drawing) -> list[str]:
    return [finding.code.partition("/")[2] for finding in drawing.findings]


def one(folder: Path, text: str) -> Shape:
    drawing = read(folder, text)
    (shape,) = drawing.shapes
    assert set(codes(drawing)) <= {"text-set", "outside-page"}
    return shape


def test_a_text_is_one_filled_shape_with_the_letters_in_their_places(tmp_path: Path) -> None:
    drawing = read(tmp_path, '<g id="Engrave"><text id="sign" x="20" y="30">AH</text></g>')
    (shape,) = drawing.shapes
    assert (shape.name, shape.layer) == ("sign", "Engrave")
    assert (shape.paint.fill, shape.paint.stroke) == ("#000000", None)
    assert shape.paint.fill_rule == "nonzero"
    first, second = boxes(shape)
    assert first == pytest.approx((20, 70, 26, 77))
    assert second == pytest.approx((27, 70, 33, 77))
    (note,) = drawing.findings
    assert (note.severity, note.code) == (Severity.NOTE, "drawing/text-set")
    assert FILE in note.what


def test_letters_are_kerned_and_joined(tmp_path: Path) -> None:
    assert lefts(one(tmp_path, '<text x="0" y="30">AVA</text>')) == pytest.approx([0, 6, 13])
    assert len(one(tmp_path, '<text x="0" y="30">fi</text>').paths) == 1
    unkerned = one(tmp_path, '<text x="0" y="30" font-kerning="none">AVA</text>')
    assert lefts(unkerned) == pytest.approx([0, 7, 14])


def test_spaced_out_letters_are_not_joined(tmp_path: Path) -> None:
    # CSS Text 3, section 7.2
    shape = one(tmp_path, '<text x="0" y="30" letter-spacing="2">fi</text>')
    assert lefts(shape) == pytest.approx([0, 5])


def test_outlines_keep_their_exact_curves(tmp_path: Path) -> None:
    outer, inner = sorted(
        one(tmp_path, '<text x="10" y="30">o</text>').paths,
        key=lambda path: -abs(path.signed_area_mm2),
    )
    for path, reach in ((outer, 2.5), (inner, 1.5)):
        curves = [span.curve for span in path.spans]
        assert len(curves) == 4
        assert all(isinstance(curve, Bezier) and len(curve.control) == 3 for curve in curves)
        # a quadratic arc from (-r, 0) to (0, r) round the corner encloses 5/6 of the quarter
        assert abs(path.signed_area_mm2) == pytest.approx(
            4 * reach**2 * 5 / 6, abs=8 * reach * CHORD_MM
        )
    assert outer.signed_area_mm2 * inner.signed_area_mm2 < 0


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ('<text x="50" y="30" text-anchor="middle">AH</text>', [43, 50]),
        ('<text x="50" y="30" text-anchor="end">AH</text>', [36, 43]),
        ('<text x="5 20 40" y="30">AHH</text>', [5, 20, 40]),
        ('<text x="5" y="30" dx="1 2 3">AHH</text>', [6, 15, 25]),
        ('<text x="5" y="30">A<tspan dx="10">H</tspan>H</text>', [5, 22, 29]),
        ('<text x="5,20" y="30">A<tspan x="60">H</tspan>H</text>', [5, 60, 67]),
        ('<text y="30" word-spacing="4">A A</text>', [0, 14]),
        ('<text y="30" letter-spacing="0.1em">AA</text>', [0, 8]),
        ('<text y="30" textLength="30">AAA</text>', [0, 11.5, 23]),
        ('<text y="30">\n  A\t\n <tspan> A</tspan> </text>', [0, 10]),
        ('<text y="30" xml:space="preserve"> A  A</text>', [3, 16]),
        ('<text y="30" style="white-space: pre"> A  A</text>', [3, 16]),
        ('<text y="30"><title>x</title>A</text>', [0]),
        ('<text y="30" style="text-transform:uppercase">ah</text>', [0, 7]),
        ('<text y="30" style="font: 20px \'Quay Test\'">AA</text>', [0, 14]),
        ('<text y="30" font-size="200%">AA</text>', [0, 14]),
        ('<text y="30" font-size="15pt">AA</text>', [0, 14]),
        ('<defs><text id="r">HH</text></defs><text y="30">A<tref href="#r"/></text>', [0, 7, 14]),
        ('<text x="50" y="30" text-anchor="middle" dx="3">A</text>', [49.5]),
        # the two runs between which a line of two directions turns (Unicode Annex 9)
        ('<text y="30">A \u05d0\u05d1</text>', [0, 10, 15]),
        ('<text x="50" y="30" direction="rtl">A \u05d0</text>', [36, 43]),
        ('<text x="50" y="30" direction="rtl" text-anchor="end">A</text>', [50]),
    ],
)
def test_letters_stand_where_the_standard_says(
    tmp_path: Path, text: str, places: list[float]
) -> None:
    assert lefts(one(tmp_path, text)) == pytest.approx(places)


def test_stretching_to_a_length_may_widen_the_letters(tmp_path: Path) -> None:
    text = '<text y="30" textLength="28" lengthAdjust="spacingAndGlyphs">AA</text>'
    assert boxes(one(tmp_path, text)) == [
        pytest.approx((0, 70, 12, 77)),
        pytest.approx((14, 70, 26, 77)),
    ]


@pytest.mark.parametrize(
    ("attributes", "foot"),
    [
        # OS/2 offsets of the test font: 0.15 em down, 0.4 em up; x height 0.5 em, ascent 0.8 em
        ('baseline-shift="sub"', 68.5),
        ('baseline-shift="super"', 74.0),
        ('baseline-shift="2"', 72.0),
        ('baseline-shift="-50%"', 65.0),
        ('dy="-5"', 75.0),
        ('dominant-baseline="middle"', 67.5),
        ('dominant-baseline="central"', 67.0),
        ('dominant-baseline="text-before-edge"', 62.0),
        ('alignment-baseline="text-after-edge"', 72.0),
    ],
)
def test_letters_are_raised_and_lowered(tmp_path: Path, attributes: str, foot: float) -> None:
    shape = one(tmp_path, f'<text x="0" y="30"><tspan {attributes}>A</tspan></text>')
    assert boxes(shape)[0][1] == pytest.approx(foot)


@given(turn=st.floats(-360, 360), x=st.floats(0, 90))
def test_a_turned_letter_turns_about_its_place(
    tmp_path_factory: pytest.TempPathFactory, turn: float, x: float
) -> None:
    folder = tmp_path_factory.mktemp("turned")
    shape = one(folder, f'<text x="{x}" y="50" rotate="{turn}">H</text>')
    corner = np.array([6.0, 7.0])
    turned = math.radians(-turn)
    cos, sin = math.cos(turned), math.sin(turned)
    expected = np.array([x, 50.0]) + np.array([[cos, -sin], [sin, cos]]) @ corner
    distances = np.hypot(*(shape.paths[0].points - expected).T)
    assert distances.min() < 1e-9


def test_letters_stand_on_a_circle(tmp_path: Path) -> None:
    circle = '<path id="c" fill="none" stroke="red" d="M50 20 A30 30 0 0 1 50 80"/>'
    text = '<text text-anchor="middle"><textPath href="#c" startOffset="50%">H</textPath></text>'
    drawing = read(tmp_path, circle + text)
    shape = drawing.shapes[-1]
    # the middle of the half circle is (80, 50), where it runs downwards on the screen
    left, low, right, high = shape.paths[0].bounds_mm
    assert (left, right) == pytest.approx((80, 87), abs=1e-2)
    assert (low + high) / 2 == pytest.approx(50.5, abs=1e-2)


def test_letters_beyond_a_paths_end_are_counted(tmp_path: Path) -> None:
    line = '<path id="c" stroke="red" fill="none" d="M0 50 H20"/>'
    drawing = read(tmp_path, line + '<text id="t"><textPath href="#c">HHHHH</textPath></text>')
    assert len(drawing.shapes[-1].paths) == 3
    (found,) = (f for f in drawing.findings if f.code == "drawing/text-off-path")
    assert (found.count, found.severity, found.shape) == (2, Severity.WARN, "t")


def test_a_part_painted_otherwise_is_a_shape_of_its_own(tmp_path: Path) -> None:
    text = (
        '<text id="t" y="30">A<tspan id="red" fill="red">H<tspan>H</tspan></tspan>'
        "<tspan>A</tspan></text>"
    )
    first, second = read(tmp_path, text).shapes
    assert (first.name, lefts(first)) == ("t", pytest.approx([0, 21]))
    assert (second.name, second.paint.fill) == ("red", "#ff0000")
    assert lefts(second) == pytest.approx([7, 14])


def test_stroked_letters_are_lines(tmp_path: Path) -> None:
    shape = one(tmp_path, '<text y="30" fill="none" stroke="red" stroke-width=".2">A</text>')
    assert (shape.paint.fill, shape.paint.stroke) == (None, "#ff0000")
    assert shape.paint.stroke_width_mm == pytest.approx(0.2)


def test_an_underline_is_a_bar_through_all_letters(tmp_path: Path) -> None:
    # post table of the test font: middle 0.1 em below the line, 0.05 em thick
    shape = one(tmp_path, '<text y="30" text-decoration="underline">HH</text>')
    bar = next(box for box in boxes(shape) if box[1] < 70)
    assert bar == pytest.approx((0, 68.75, 14, 69.25))
    assert filled(shape.paths, "nonzero").area == pytest.approx(2 * 42 + 7)


def test_hidden_text_stays_hidden(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        '<text y="30" visibility="hidden">A<tspan visibility="visible">H</tspan></text>'
        '<text y="30" display="none">A</text>'
        '<text y="50">A<tspan display="none">HHH</tspan></text>',
    )
    assert [lefts(shape) for shape in drawing.shapes] == [pytest.approx([7]), pytest.approx([0])]
    assert sum(f.count for f in drawing.findings if f.code == "drawing/hidden") == 3


def test_hidden_text_needs_no_font(tmp_path: Path) -> None:
    hidden = '<text font-family="Harbour Script" visibility="hidden">A</text>'
    assert codes(read(tmp_path, hidden + '<rect width="9" height="9"/>')) == ["hidden"]


STOPPED = {
    "font-missing": '<text id="t" x="1" y="2" font-family="Harbour Script, serif">A</text>',
    "no-glyph": '<text id="t" x="1" y="2">A\u2693</text>',
    "text": '<text id="t" x="1" y="2" writing-mode="tb">A</text>',
}


@pytest.mark.parametrize("slug", STOPPED)
def test_a_text_that_cannot_be_set_stops_and_is_left_out_whole(tmp_path: Path, slug: str) -> None:
    drawing = read(tmp_path, STOPPED[slug] + '<rect width="9" height="9"/>')
    assert len(drawing.shapes) == 1
    (found,) = drawing.findings
    assert (found.severity, found.code) == (Severity.STOP, f"drawing/{slug}")
    assert (found.shape, found.x_mm, found.y_mm) == ("t", pytest.approx(1), pytest.approx(98))
    named = {"font-missing": "Harbour Script", "no-glyph": "\u2693", "text": '"A"'}[slug]
    assert named in found.what
    assert "outlines" in found.remedy


def test_text_wrapped_into_an_area_or_on_a_lost_line_stops(tmp_path: Path) -> None:
    rect = '<rect width="9" height="9"/>'
    for text in (
        '<text style="inline-size:50px">A</text>',
        '<text style="shape-inside:url(#r)">A</text>',
        '<text><textPath href="#lost">A</textPath></text>',
        "<flowRoot><flowPara>A</flowPara></flowRoot>",
    ):
        assert codes(read(tmp_path, text + rect)) == ["text"]


def test_wrapped_text_with_the_places_of_its_lines_is_set(tmp_path: Path) -> None:
    text = '<text style="shape-inside:url(#r)"><tspan x="3" y="20">A</tspan></text>'
    assert lefts(one(tmp_path, text)) == pytest.approx([3])


@pytest.mark.parametrize(
    ("attributes", "told"),
    [
        ('font-family="serif"', "serif is set in Quay Test Regular"),
        ('font-family="\'Quay Test\', Other" font-weight="bold"', "not bold"),
        ('font-family="Harbour Script, Quay Test"', '"Harbour Script" is not found'),
        ('font-style="italic"', "not italic"),
        ('font-variant="small-caps"', "small capitals"),
    ],
)
def test_a_font_not_quite_as_asked_for_is_told(tmp_path: Path, attributes: str, told: str) -> None:
    drawing = read(tmp_path, f'<text id="t" y="30" {attributes}>A</text>')
    assert len(drawing.shapes) == 1
    (found,) = (f for f in drawing.findings if f.code == "drawing/font-taken")
    assert found.severity is Severity.WARN
    assert told in found.what


def test_text_that_names_no_font_tells_which_one_it_took(tmp_path: Path) -> None:
    write_font(tmp_path)
    drawing = read_alone(tmp_path, '<text y="30" font-size="10">A</text>')
    assert lefts(drawing.shapes[0]) == pytest.approx([0])
    assert codes(drawing) == ["font-taken", "text-set"]


def test_without_any_font_text_stops(tmp_path: Path) -> None:
    drawing = read_alone(tmp_path, '<text font-family="serif">A</text><rect width="9" height="9"/>')
    (found,) = drawing.findings
    assert (found.severity, found.code) == (Severity.STOP, "drawing/text")


def test_a_character_may_come_from_the_next_font_of_the_list(tmp_path: Path) -> None:
    write_font(tmp_path, family="Quay Other", file="other.ttf", wider=200)
    drawing = read(tmp_path, '<text y="30" font-family="Quay Test, Quay Other">AA</text>')
    assert boxes(drawing.shapes[0])[0] == pytest.approx((0, 70, 6, 77))
    assert codes(drawing) == ["text-set"]


def test_a_damaged_font_beside_the_drawing_is_told(tmp_path: Path) -> None:
    (tmp_path / "broken.ttf").write_bytes(b"\0\1\0\0 no font at all")
    drawing = read(tmp_path, '<text y="30">A</text>')
    assert codes(drawing) == ["font-damaged", "text-set"]


def test_style_comes_through_sheets_and_copies(tmp_path: Path) -> None:
    write_font(tmp_path)
    drawing = read_alone(
        tmp_path,
        "<style>.big { font: 20px 'Quay Test' }</style><defs><text id='t' y='30'>AA</text></defs>"
        "<g class='big'><use href='#t' x='5' id='copy'/></g>",
    )
    (shape,) = drawing.shapes
    assert (shape.name, lefts(shape)) == ("copy", pytest.approx([5, 19]))


def test_every_code_has_its_heading_on_the_help_page() -> None:
    headings = {line[3:] for line in HELP.read_text("utf-8").splitlines() if line[:3] == "## "}
    assert set(text_findings.TEXT_KINDS) | {"text"} <= headings
