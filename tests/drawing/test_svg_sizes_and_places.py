"""An SVG comes out in true millimetres, y upwards, origin at the lower left of its page.

Units: CSS Values and Units 3, section 5.2 (1in = 96px = 2.54cm, 1pc = 1/6in, 1pt = 1/72in,
1Q = 1/40cm). View boxes and transforms: SVG 1.1 chapter 7.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.svg.path_data import parse_path
from kerfwright.drawing.svg.read import read_svg
from kerfwright.geometry.affine import Affine, rotation, scaling, translation

Read = Callable[..., Drawing]

NAMESPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
IN_MM = 'width="200mm" height="100mm" viewBox="0 0 200 100"'


def read(tmp_path: Path, body: str, root: str = IN_MM, chord_mm: float = 0.01) -> Drawing:
    file = tmp_path / "drawing.svg"
    file.write_text(f"<svg {NAMESPACES} {root}>{body}</svg>", encoding="utf-8")
    return read_svg(file, chord_mm)


def codes(drawing: Drawing) -> set[str]:
    return {finding.code for finding in drawing.findings}


@pytest.mark.parametrize(
    ("length", "mm"),
    [
        ("96px", 25.4),
        ("96", 25.4),
        ("1in", 25.4),
        ("1cm", 10.0),
        ("25.4mm", 25.4),
        ("1pc", 25.4 / 6),
        ("1pt", 25.4 / 72),
        ("1Q", 0.25),
        ("1e1mm", 10.0),
        ("2em", 32 * 25.4 / 96),
        (" 3 ", 3 * 25.4 / 96),
    ],
)
def test_css_lengths(tmp_path: Path, length: str, mm: float) -> None:
    drawing = read(
        tmp_path, f'<rect width="{length}" height="1mm"/>', 'width="900mm" height="900mm"'
    )
    left, low, right, high = drawing.shapes[0].paths[0].bounds_mm
    assert (left, right) == pytest.approx((0.0, mm), rel=1e-12)
    assert (low, high) == pytest.approx((899.0, 900.0), rel=1e-12)


def test_percentages_refer_to_the_view_box(tmp_path: Path) -> None:
    drawing = read(tmp_path, '<rect x="10%" y="20%" width="50%" height="50%"/>')
    assert drawing.shapes[0].paths[0].bounds_mm == pytest.approx((20.0, 30.0, 120.0, 80.0))


@pytest.mark.parametrize(
    ("root", "size_mm", "assumed"),
    [
        ('width="50mm" height="2in" viewBox="0 0 5 5"', (50.0, 50.8), False),
        ('width="96" height="48px"', (25.4, 12.7), True),
        ('viewBox="0 0 96 192"', (25.4, 50.8), True),
        ('width="100%" height="100%" viewBox="0 0 96 192"', (25.4, 50.8), True),
        ('width="50%" viewBox="0 0 96 192"', (12.7, 25.4), True),
        ('width="10cm" viewBox="0 0 20 10"', (100.0, 50.0), False),
        ('height="10cm" viewBox="0 0 20 10"', (200.0, 100.0), False),
        ('style="width:10mm;height:30mm" viewBox="0 0 10 30"', (10.0, 30.0), False),
    ],
)
def test_size_of_the_page(
    tmp_path: Path, root: str, size_mm: tuple[float, float], assumed: bool
) -> None:
    drawing = read(tmp_path, '<rect width="1" height="1"/>', root)
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx(size_mm, rel=1e-12)
    assert ("drawing/assumed-scale" in codes(drawing)) is assumed


def test_without_any_page_the_shapes_extent_is_the_page(tmp_path: Path) -> None:
    body = '<rect x="-96" y="96" width="192" height="96"/><text x="-96" y="192">lost</text>'
    drawing = read(tmp_path, body, "")
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((50.8, 25.4))
    assert drawing.shapes[0].paths[0].bounds_mm == pytest.approx((0.0, 0.0, 50.8, 25.4))
    text = next(finding for finding in drawing.findings if finding.code == "drawing/text")
    assert (text.x_mm, text.y_mm) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_y_points_up_from_the_lower_left_of_the_page(tmp_path: Path) -> None:
    drawing = read(tmp_path, '<polyline points="0,100 200,100 200,0" stroke="red" fill="none"/>')
    path = drawing.shapes[0].paths[0]
    assert not path.closed
    np.testing.assert_allclose(path.points, [[0, 0], [200, 0], [200, 100]], atol=1e-9)


def test_a_closed_path_does_not_repeat_its_first_point(tmp_path: Path) -> None:
    body = (
        '<path d="M 0 0 H 10 V 10 Z"/><path d="M 0 0 H 10 V 10 L 0 0"/>'
        '<path d="m 0.1 0.1 h 0.2 v 0.3 h -0.2 v -0.3"/><path d="M 0 0 H 10 V 10 L 0 0.001"/>'
    )
    paths = [shape.paths[0] for shape in read(tmp_path, body).shapes]
    assert [path.closed for path in paths] == [True, True, True, False]
    assert [len(path.points) for path in paths] == [3, 3, 4, 4]


def test_a_path_goes_on_from_where_it_was_closed(tmp_path: Path) -> None:
    drawing = read(tmp_path, '<path stroke="red" d="M 10 10 h 5 v 5 z l 0 -5 5 0"/>')
    first, second = drawing.shapes[0].paths
    assert (first.closed, second.closed) == (True, False)
    np.testing.assert_allclose(second.points, [[10, 90], [10, 95], [15, 95]], atol=1e-9)


CIRCLES = {
    "circle": '<circle cx="100" cy="50" r="40"/>',
    "two half arcs": '<path d="M 60 50 A 40 40 0 0 1 140 50 A 40 40 0 0 1 60 50 Z"/>',
    "scaled ellipse": '<ellipse transform="translate(100 50) scale(4 20)" rx="10" ry="2"/>',
    "arc grown to reach": '<path d="M 60 50 A 1 1 0 0 0 140 50 A 9 9 0 0 0 60 50"/>',
    "round rectangle": '<rect x="60" y="10" width="80" height="80" rx="40"/>',
}


@pytest.mark.parametrize("name", CIRCLES)
@pytest.mark.parametrize("chord_mm", [0.1, 0.001])
def test_a_circle_strays_by_no_more_than_the_chord(
    tmp_path: Path, name: str, chord_mm: float
) -> None:
    path = read(tmp_path, CIRCLES[name], chord_mm=chord_mm).shapes[0].paths[0]
    line = path.line
    reach = np.hypot(*(path.points - [100, 50]).T)
    middles = np.hypot(*((line[1:] + line[:-1]) / 2 - [100, 50]).T)
    assert path.closed
    np.testing.assert_allclose(reach, 40.0, rtol=1e-9)
    assert middles.min() >= 40.0 - chord_mm * (1 + 1e-6)
    assert abs(path.signed_area_mm2) == pytest.approx(math.pi * 1600, rel=2 * chord_mm / 40)


def test_a_curve_is_flattened_after_it_is_enlarged(tmp_path: Path) -> None:
    small = '<path transform="scale(100)" d="M 0 0 Q 0.5 1 1 0 C 1 1 2 1 2 0"/>'
    points = read(tmp_path, small).shapes[0].paths[0].points
    t = np.linspace(0, 1, 2001)
    quadratic = np.column_stack([100 * t, 100 - 200 * t * (1 - t)])
    pieces = points[points[:, 0] <= 100.0 + 1e-9]
    gaps = np.interp(quadratic[:, 0], pieces[:, 0], pieces[:, 1]) - quadratic[:, 1]
    assert np.abs(gaps).max() <= 0.01


FINITE = st.floats(-3.0, 3.0).map(lambda value: round(value, 3))

TRANSFORMS = st.one_of(
    st.tuples(FINITE, FINITE).map(lambda v: (f"translate({v[0]} {v[1]})", translation(v[0], v[1]))),
    st.tuples(FINITE, FINITE).map(lambda v: (f"scale({v[0]},{v[1]})", scaling(v[0], v[1]))),
    FINITE.map(lambda v: (f"rotate({40 * v})", rotation(40 * v))),
    FINITE.map(
        lambda v: (
            f"rotate({40 * v}, 7 -2)",
            translation(7, -2) @ rotation(40 * v) @ translation(-7, 2),
        )
    ),
    FINITE.map(lambda v: (f"skewX({20 * v})", Affine(c=math.tan(math.radians(20 * v))))),
    FINITE.map(lambda v: (f"skewY({20 * v})", Affine(b=math.tan(math.radians(20 * v))))),
    st.tuples(*[FINITE] * 6).map(
        lambda v: (f"matrix({' '.join(map(str, v))})", Affine(*v)),
    ),
)


@given(chain=st.lists(st.tuples(TRANSFORMS, st.booleans()), max_size=5))
def test_transforms_commute_with_reading(
    tmp_path_factory: pytest.TempPathFactory, chain: list[tuple[tuple[str, Affine], bool]]
) -> None:
    """Transforms apply innermost first, whether listed in one attribute or on nested groups."""
    total, opening, attribute = Affine(), "", ""
    for (text, one), nested in chain:
        total = total @ one
        attribute += f" {text}"
        if nested:
            opening, attribute = f'{opening}<g transform="{attribute}">', ""
    if abs(total.determinant) < 1e-6:
        return
    body = (
        f'{opening}<polyline transform="{attribute}" points="1 2 5 3 4 9" stroke="#000" '
        f'fill="none" stroke-width="2"/>{"</g>" * opening.count("<g")}'
    )
    shape = read(tmp_path_factory.mktemp("svg"), body).shapes[0]
    expected = (Affine(d=-1, f=100) @ total).apply(np.array([[1.0, 2], [5, 3], [4, 9]]))
    np.testing.assert_allclose(shape.paths[0].points, expected, rtol=1e-9, atol=1e-9)
    assert shape.paint.stroke_width_mm == pytest.approx(2 * math.sqrt(abs(total.determinant)))


def test_transforms_written_as_css(tmp_path: Path) -> None:
    body = (
        '<rect width="10" height="20" style="transform: translate(1cm, 20px) rotate(0.25turn)"/>'
        '<rect width="10" height="20" style="transform:rotate(90deg);transform-origin:10px 20px"/>'
    )
    first, second = read(tmp_path, body).shapes
    cm = 96 / 2.54
    assert first.paths[0].bounds_mm == pytest.approx((cm - 20, 70, cm, 80))
    assert second.paths[0].bounds_mm == pytest.approx((10, 80, 30, 90))


def test_symbols_and_nested_drawings_fit_their_frames(tmp_path: Path) -> None:
    body = (
        '<symbol id="s" viewBox="0 0 2 1"><rect width="2" height="1"/></symbol>'
        '<use href="#s" x="10" y="20" width="40" height="40"/>'
        '<svg x="100" y="50" width="50%" height="20" viewBox="0 0 10 10" '
        'preserveAspectRatio="xMaxYMid slice"><rect width="50%" height="10"/></svg>'
    )
    used, nested = read(tmp_path, body).shapes
    assert used.paths[0].bounds_mm == pytest.approx((10, 50, 50, 70))
    assert nested.paths[0].bounds_mm == pytest.approx((100, 30, 150, 50))


def test_sizes_and_places_written_as_css(tmp_path: Path) -> None:
    """SVG 2 chapter 7: the geometry properties."""
    body = (
        "<style>.lid{width:20px;height:10px;x:5px} #hole{r:3px;cx:50px}</style>"
        '<rect class="lid" y="10" width="90"/><circle id="hole" cy="50" r="9"/>'
        '<path style="d:path(&quot;M0 0H7V8z&quot;)" d="M0 0H90V90z"/>'
    )
    bounds = [shape.paths[0].bounds_mm for shape in read(tmp_path, body).shapes]
    expected = [(5, 80, 25, 90), (47, 47, 53, 53), (0, 92, 7, 100)]
    np.testing.assert_allclose(bounds, expected, atol=0.01)


def test_lines_keep_their_width_where_they_are_told_to(tmp_path: Path) -> None:
    """SVG 2 section 13.6, vector-effect; the width is then in px."""
    body = (
        '<g transform="scale(3)"><path vector-effect="non-scaling-stroke" stroke="red" '
        'stroke-width="4" d="M0 0H9"/></g>'
    )
    assert read(tmp_path, body).shapes[0].paint.stroke_width_mm == pytest.approx(4 * 25.4 / 96)


@given(
    st.lists(st.tuples(st.sampled_from("MLHVCSQTAmlhvcsqta"), st.integers(0, 10**6)), max_size=8)
)
def test_path_data_means_the_same_however_tightly_it_is_written(
    picks: list[tuple[str, int]],
) -> None:
    counts = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}
    wide, tight = ["M 1 2"], ["M1 2"]
    for command, seed in picks:
        random = np.random.default_rng(seed)
        values = [f"{v:.3f}" for v in random.uniform(-9, 9, counts[command.upper()])]
        if command in "Aa":
            values[3:5] = [str(int(flag)) for flag in random.integers(0, 2, 2)]
        wide.append(f"{command} {' , '.join(values)}")
        small = [re.sub(r"^(-?)0\.", r"\1.", value) for value in values]
        text = command
        for index, value in enumerate(small):
            after_flag = command in "Aa" and index in {4, 5}
            text += value if index == 0 or value[0] in "-." or after_flag else f" {value}"
        tight.append(text)
    loose, fault_loose = parse_path(" \n".join(wide))
    dense, fault_dense = parse_path("".join(tight))
    assert fault_loose is None
    assert fault_dense is None
    assert len(loose) == len(dense)
    for one, other in zip(loose, dense, strict=True):
        assert one.start == other.start
        assert [str(piece) for piece in one.pieces] == [str(piece) for piece in other.pieces]
