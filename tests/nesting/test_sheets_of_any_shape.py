"""Irregular sheets, areas to keep free, and what a layout leaves of its sheet."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import affine_transform

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.empty_rectangle import largest_rectangle
from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.remainder import remainder

QUARTERS = (0.0, 90.0, 180.0, 270.0)
ELL = Polygon([(0, 0), (300, 0), (300, 80), (120, 80), (120, 200), (0, 200)])
KNOT = Point(60.0, 40.0).buffer(15.0)


def square(side_mm: float, quantity: int, **wishes: object) -> Body:
    corners = box(0.0, 0.0, side_mm, side_mm)
    return Body("square", (corners,), quantity, QUARTERS, **wishes)  # type: ignore[arg-type]


def moved(body: Body, placement: Placement) -> Polygon:
    t = placement.transform
    return affine_transform(body.footprint[0], [t.a, t.c, t.b, t.d, t.e, t.f])


def laid_out(*bodies: Body, sheets: tuple[SheetSize, ...], margin_mm: float = 5.0) -> Layouts:
    layouts = nest(bodies, sheets, spacing_mm=2.0, margin_mm=margin_mm, seconds=0.1, seed=1)
    assert check_layouts(bodies, layouts, spacing_mm=2.0, margin_mm=margin_mm) == ()
    return layouts


def test_parts_keep_the_margin_from_the_edge_of_an_irregular_sheet() -> None:
    sheet = SheetSize("ell", 300.0, 200.0, 1, outline=ELL)
    body = square(30.0, 16)
    layouts = laid_out(body, sheets=(sheet,))
    assert not layouts.unplaced
    for placement in layouts.sheets[0].placements:
        placed = moved(body, placement)
        assert ELL.buffer(1e-6).covers(placed)
        assert placed.distance(ELL.boundary) >= 5.0 - 1e-6


def test_an_irregular_sheet_takes_less_than_its_box() -> None:
    full = SheetSize("box", 300.0, 200.0, 1)
    ell = SheetSize("ell", 300.0, 200.0, 1, outline=ELL)
    body = square(50.0, 15)
    assert not laid_out(body, sheets=(full,)).unplaced
    assert laid_out(body, sheets=(ell,)).unplaced


def test_nothing_lies_on_what_is_to_be_kept_free() -> None:
    sheet = SheetSize("knotty", 120.0, 80.0, 1, keep_out=(KNOT,))
    body = square(22.0, 20)
    for placement in laid_out(body, sheets=(sheet,)).sheets[0].placements:
        assert moved(body, placement).distance(KNOT) >= 2.0 - 1e-6


@settings(max_examples=40)
@given(
    st.floats(0.1, 20.0),
    st.lists(st.floats(60.0, 150.0), min_size=3, max_size=9),
    st.floats(0.0, 8.0),
)
def test_the_usable_area_keeps_the_margin_and_loses_hardly_more(
    margin_mm: float, radii: list[float], around_mm: float
) -> None:
    corners = [
        (
            200.0 + r * math.cos(i * math.tau / len(radii)),
            200.0 + r * math.sin(i * math.tau / len(radii)),
        )
        for i, r in enumerate(radii)
    ]
    edge = Polygon(corners)
    sheet = SheetSize("star", 400.0, 400.0, 1, outline=edge, keep_out=(KNOT,))
    usable = sheet.usable(margin_mm, around_mm)
    exact = edge.buffer(-margin_mm, quad_segs=256).difference(KNOT.buffer(around_mm, quad_segs=256))
    assert usable.difference(edge).area <= 1e-9
    if not usable.is_empty:
        # the offsets are rounded by less than this, a tenth of what the check of layouts allows
        assert usable.distance(edge.boundary) >= margin_mm - 1e-7
        assert usable.distance(KNOT) >= around_mm - 1e-7
    assert exact.area - usable.area <= 0.002 * (margin_mm + around_mm) * edge.length


def test_the_check_names_a_part_beyond_an_outline_and_one_on_a_knot() -> None:
    sheet = SheetSize("ell", 300.0, 200.0, 1, outline=ELL, keep_out=(KNOT,))
    body = square(10.0, 1)
    for x_mm, y_mm, what in ((200.0, 120.0, "usable area"), (55.0, 38.0, "to keep free")):
        layout = SheetLayout(sheet, (Placement(0, 0.0, x_mm, y_mm),), 100.0 / ELL.area)
        found = check_layouts([body], Layouts((layout,), {}), spacing_mm=2.0, margin_mm=5.0)
        assert len(found) == 1
        assert what in found[0]


# -- what is left -----------------------------------------------------------------------------


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(st.integers(0, 9), st.integers(0, 7), st.integers(1, 5), st.integers(1, 5)),
        max_size=6,
    )
)
def test_the_largest_rectangle_beside_boxes_is_that_of_trying_all(
    boxes: list[tuple[int, int, int, int]],
) -> None:
    """Exhaustive search over all integer rectangles is the reference."""
    taken = shapely.union_all([box(x, y, x + w, y + h) for x, y, w, h in boxes])
    area = box(0, 0, 10, 8).difference(taken)
    shapely.prepare(area)
    best = max(
        (
            (right - left) * (top - bottom)
            for left in range(10)
            for right in range(left + 1, 11)
            for bottom in range(8)
            for top in range(bottom + 1, 9)
            if area.covers(box(left, bottom, right, top))
        ),
        default=0,
    )
    found = largest_rectangle(area)
    assert found.area == pytest.approx(best)
    assert area.buffer(1e-9).covers(found)


def test_the_largest_rectangle_in_a_disc_is_its_square() -> None:
    """Of all rectangles in a circle of radius r the square of area 2 r² is largest (Euclid)."""
    disc = Point(50.0, 50.0).buffer(50.0, quad_segs=90)
    found = largest_rectangle(disc)
    assert disc.buffer(1e-9).covers(found)
    assert 0.98 * 2.0 * 50.0**2 <= found.area <= 2.0 * 50.0**2


def test_the_largest_rectangle_in_a_right_triangle_is_half_of_it() -> None:
    """A rectangle in a triangle has at most half its area (Lange 1993, College Math. Journal)."""
    found = largest_rectangle(Polygon([(0, 0), (200, 0), (0, 120)]))
    assert 0.96 * 6000.0 <= found.area <= 6000.0 + 1e-6


def test_what_is_left_of_a_sheet_is_measured() -> None:
    body = Body("plate", (box(0.0, 0.0, 90.0, 90.0),), 1, (0.0,))
    layout = SheetLayout(SheetSize("board", 300.0, 100.0, 1), (Placement(0, 0.0, 5.0, 5.0),), 0.27)
    left = remainder([body], layout, spacing_mm=2.0)
    assert left.hull_fraction == pytest.approx(1.0)
    assert left.rectangle_mm == pytest.approx((300.0 - 97.0, 100.0), abs=0.2)
    assert left.offcut.area == pytest.approx(203.0 * 100.0, rel=0.01)


def test_a_full_sheet_leaves_nothing() -> None:
    body = Body("plate", (box(0.0, 0.0, 100.0, 100.0),), 1, (0.0,))
    layout = SheetLayout(SheetSize("board", 100.0, 100.0, 1), (Placement(0, 0.0, 0.0, 0.0),), 1.0)
    left = remainder([body], layout, spacing_mm=2.0)
    assert left.rectangle.is_empty
    assert left.rectangle_mm == (0.0, 0.0)
    assert left.offcut.is_empty
