"""Where more than two ends meet: the straightest way on, unless another lets an outline close."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon
from shapely.ops import polygonize, unary_union

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.geometry.paths import Path
from kerfwright.repair.mend import mend

Line = Sequence[tuple[float, float]]
SQUARE: list[Line] = [
    [(0, 0), (20, 0)],
    [(20, 0), (20, 20)],
    [(20, 20), (0, 20)],
    [(0, 20), (0, 0)],
]


def mended(pieces: Sequence[Line], seed: int = 0) -> list[Path]:
    """Mend lines in an order and with directions thrown by dice."""
    dice = np.random.default_rng(seed)
    shapes = []
    for k in dice.permutation(len(pieces)).tolist():
        points = np.array(pieces[k], dtype=float)
        points = points[::-1].copy() if dice.random() < 0.5 else points
        shapes.append(Shape(f"line {k}", (Path(points),), "cut", Paint(stroke="#000000")))
    drawing = Drawing("harbour.svg", tuple(shapes), 100.0, 100.0)
    out = mend(drawing, join_mm=0.05, gap_mm=0.0)
    return [path for shape in out.shapes for path in shape.paths]


def moved(pieces: Sequence[Line], x: float, y: float) -> list[Line]:
    return [[(a + x, b + y) for a, b in piece] for piece in pieces]


def outlines(paths: Sequence[Path]) -> list[float]:
    return sorted(round(abs(path.signed_area_mm2), 6) for path in paths if path.closed)


def open_lengths(paths: Sequence[Path]) -> list[float]:
    return sorted(round(path.length_mm, 6) for path in paths if not path.closed)


seeds = pytest.mark.parametrize("seed", range(6))


@seeds
def test_a_tail_in_line_with_a_side_leaves_the_square_closed(seed: int) -> None:
    paths = mended([*SQUARE, [(-7, 0), (0, 0)]], seed)
    assert outlines(paths) == [400.0]
    assert open_lengths(paths) == [7.0]


@seeds
def test_sides_drawn_past_every_corner_leave_the_square_closed(seed: int) -> None:
    """Each side runs on past one corner, as lines drawn by hand do."""
    tails: list[Line] = [
        [(20, 0), (23, 0)],
        [(20, 20), (20, 23)],
        [(0, 20), (-3, 20)],
        [(0, 0), (0, -3)],
    ]
    paths = mended([*SQUARE, *tails], seed)
    assert outlines(paths) == [400.0]
    assert open_lengths(paths) == [3.0] * 4


@seeds
def test_two_lines_past_one_corner_leave_the_square_closed(seed: int) -> None:
    paths = mended([*SQUARE, [(-7, 0), (0, 0)], [(0, -7), (0, 0)]], seed)
    assert outlines(paths) == [400.0]
    assert sum(open_lengths(paths)) == 14.0


@seeds
def test_two_squares_that_touch_at_a_corner_are_two(seed: int) -> None:
    paths = mended([*SQUARE, *moved(SQUARE, 20, 20)], seed)
    assert outlines(paths) == [400.0, 400.0]


@seeds
def test_four_squares_side_by_side_are_a_frame_and_a_cross(seed: int) -> None:
    """Every inner side is there twice, and kept once."""
    rows = [moved(SQUARE, x, y) for x in (-20, 0) for y in (-20, 0)]
    paths = mended([line for row in rows for line in row], seed)
    assert outlines(paths) == [1600.0]
    assert open_lengths(paths) == [40.0, 40.0]


@seeds
def test_a_bar_with_a_stem_goes_straight_on(seed: int) -> None:
    paths = mended([[(-10, 0), (0, 0)], [(10, 0), (0, 0)], [(0, 0), (0, -10)]], seed)
    assert open_lengths(paths) == [10.0, 20.0]


@seeds
def test_a_star_of_six_arms_is_three_lines(seed: int) -> None:
    arms = [
        [(0.0, 0.0), (float(np.cos(a)) * 9, float(np.sin(a)) * 9)] for a in np.arange(6) * np.pi / 3
    ]
    assert open_lengths(mended(arms, seed)) == [18.0] * 3


@seeds
def test_two_equal_rectangles_share_a_side_that_is_left_as_a_line(seed: int) -> None:
    paths = mended([*SQUARE, *moved([SQUARE[0], SQUARE[1], SQUARE[2]], 20, 0)], seed)
    assert outlines(paths) == [800.0]
    assert open_lengths(paths) == [20.0]


@seeds
def test_a_low_rectangle_beside_a_high_one_shares_part_of_its_side(seed: int) -> None:
    """The straightest way up the shared side leads past the corner of the low one."""
    paths = mended(
        [
            [(0, 0), (10, 0)],
            [(10, 0), (10, 5)],
            [(10, 5), (10, 10)],
            [(10, 10), (0, 10), (0, 0)],
            [(10, 0), (20, 0), (20, 5), (10, 5)],
        ],
        seed,
    )
    assert outlines(paths) == [150.0]
    assert open_lengths(paths) == [5.0]


@seeds
def test_two_squares_held_together_by_a_line_are_closed(seed: int) -> None:
    paths = mended([*SQUARE, *moved(SQUARE, 50, 0), [(20, 0), (50, 0)]], seed)
    assert outlines(paths) == [400.0, 400.0]
    assert open_lengths(paths) == [30.0]


@seeds
def test_a_drop_on_a_line_is_closed(seed: int) -> None:
    angles = np.linspace(-0.25, 1.25, 30) * np.pi
    drop = [
        (0.0, 0.0),
        *((5 * float(np.cos(a)), 12 + 5 * float(np.sin(a))) for a in angles),
        (0, 0),
    ]
    paths = mended([drop, [(0, 0), (4, -20)]], seed)
    assert [path.closed for path in paths].count(True) == 1
    assert open_lengths(paths) == [round(float(np.hypot(4, 20)), 6)]


@seeds
def test_a_lattice_of_crossing_lines_stays_straight(seed: int) -> None:
    steps = [(float(a), float(a + 10)) for a in range(0, 50, 10)]
    level = [[(a, y), (b, y)] for y in (10.0, 20.0, 30.0, 40.0) for a, b in steps]
    paths = mended([*level, *([(y, x) for x, y in line] for line in level)], seed)
    assert open_lengths(paths) == [50.0] * 8


@seeds
def test_a_framed_lattice_is_a_frame_and_straight_lines(seed: int) -> None:
    steps = [(float(a), float(a + 10)) for a in range(0, 50, 10)]
    level = [[(a, y), (b, y)] for y in (0.0, 10.0, 20.0, 30.0, 40.0, 50.0) for a, b in steps]
    paths = mended([*level, *([(y, x) for x, y in line] for line in level)], seed)
    assert outlines(paths) == [2500.0]
    assert open_lengths(paths) == [50.0] * 8


@given(st.integers(0, 10_000))
@settings(max_examples=40)
def test_everything_that_is_drawn_is_still_there_and_an_only_face_is_closed(seed: int) -> None:
    """Against the arrangement by the GEOS library (shapely): a ring with tails of two pieces."""
    dice = np.random.default_rng(seed)
    count = int(dice.integers(3, 9))
    angles = (np.arange(count) + dice.uniform(0.2, 0.8, count)) * 2 * np.pi / count
    ring = np.column_stack([np.cos(angles), np.sin(angles)]) * dice.uniform(15, 30, (count, 1))
    pieces = [[tuple(ring[k]), tuple(ring[(k + 1) % count])] for k in range(count)]
    for k in dice.choice(count, int(dice.integers(1, count)), replace=False).tolist():
        side = ring[k] - ring[(k + 1) % count]
        out = ring[k] + side / np.hypot(*side) * 6.0
        pieces += [[tuple(ring[k]), tuple(out)], [tuple(out), (out[0] + 1.0, out[1] + 9.0)]]
    drawn = unary_union([LineString(piece) for piece in pieces])
    faces = list(polygonize(drawn))
    paths = mended(pieces, seed)
    assert sum(path.length_mm for path in paths) == pytest.approx(
        sum(LineString(piece).length for piece in pieces)
    )
    if len(faces) == 1 and len(drawn.geoms) == len(pieces):
        (closed,) = [path for path in paths if path.closed]
        assert Polygon(closed.points).symmetric_difference(faces[0]).area < 1e-6


lattice = st.tuples(st.integers(0, 4), st.integers(0, 4)).map(
    lambda at: (float(at[0]), float(at[1]))
)


@given(st.lists(st.tuples(lattice, lattice), min_size=4, max_size=40))
@settings(max_examples=60)
def test_a_tangle_of_lines_mends_once_and_for_all(pieces: list[Line]) -> None:
    shapes = [
        Shape(f"line {k}", (Path(np.array(piece)),), "cut", Paint(stroke="#000000"))
        for k, piece in enumerate(pieces)
    ]
    drawing = Drawing("net.svg", tuple(shapes), 9.0, 9.0)
    once = mend(drawing, join_mm=0.05, gap_mm=0.5)
    twice = mend(once, join_mm=0.05, gap_mm=0.5)
    assert twice.findings == once.findings
    assert all(one is other for one, other in zip(once.shapes, twice.shapes, strict=True))
    drawn = unary_union([LineString(piece) for piece in pieces])
    left = unary_union([LineString(path.line) for shape in once.shapes for path in shape.paths])
    assert drawn.difference(left.buffer(1e-3)).length < 1e-6
    assert left.difference(drawn.buffer(1e-3)).length < 1e-6
