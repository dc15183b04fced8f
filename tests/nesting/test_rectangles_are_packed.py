"""Rectangles fill a rectangular area legally, the same way every time."""

from __future__ import annotations

import math
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import rotate

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout, SheetSize
from kerfwright.nesting.rectangles import all_rectangles, pack_rectangles

QUARTERS = (0.0, 90.0)


def plates(sizes: list[tuple[float, float]]) -> list[Body]:
    counts = Counter(sizes)
    return [
        Body(f"{w} × {h}", (box(3, 7, 3 + w, 7 + h),), n, QUARTERS) for (w, h), n in counts.items()
    ]


def packed(
    bodies: list[Body],
    width_mm: float,
    height_mm: float,
    spacing_mm: float = 0.0,
    margin_mm: float = 0.0,
) -> tuple[Placement, ...]:
    """Pack, and demand that the layout is legal."""
    sheet = SheetSize("board", width_mm, height_mm, 1)
    wanted = Counter({i: body.quantity for i, body in enumerate(bodies)})
    placements = pack_rectangles(
        bodies, wanted, sheet.usable(margin_mm), spacing_mm=spacing_mm, seed=1, work=200
    )
    assert placements is not None
    used = math.fsum(bodies[p.body].footprint[0].area for p in placements) / sheet.area_mm2
    left = dict(wanted - Counter(p.body for p in placements))
    layouts = Layouts((SheetLayout(sheet, placements, used),), left)
    assert check_layouts(bodies, layouts, spacing_mm=spacing_mm, margin_mm=margin_mm) == ()
    return placements


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.floats(5.0, 90.0), st.floats(5.0, 90.0)), min_size=1, max_size=14),
    st.sampled_from([0.0, 0.15, 2.0]),
    st.sampled_from([0.0, 5.0]),
)
def test_any_rectangles_lie_legally(
    sizes: list[tuple[float, float]], spacing_mm: float, margin_mm: float
) -> None:
    packed(plates(sizes), 220.0, 150.0, spacing_mm, margin_mm)


def test_a_grid_fills_the_sheet() -> None:
    # 9 × 6 tiles of 40 at 2 mm: 9 · 40 + 8 · 2 = 376 and 6 · 40 + 5 · 2 = 250
    assert len(packed(plates([(40.0, 40.0)] * 60), 376.0, 250.0, 2.0)) == 54


def test_what_fits_only_turned_is_turned() -> None:
    placements = packed(plates([(100.0, 20.0)] * 3), 60.0, 100.0)
    assert [p.turn_deg for p in placements] == [90.0] * 3


def test_the_exact_search_uses_the_last_corner() -> None:
    # 100 × 60 cut in five, of which no two sides are equal
    sizes = [(37.0, 60.0), (63.0, 23.0), (41.0, 37.0), (22.0, 18.0), (22.0, 19.0)]
    assert sum(w * h for w, h in sizes) == 6000.0
    assert len(packed(plates(sizes), 100.0, 60.0)) == 5


def test_a_plate_drawn_aslant_is_laid_straight() -> None:
    plate = Body("plate", (rotate(box(0, 0, 50, 20), 30.0),), 4, (0.0, 60.0, 330.0))
    assert all_rectangles([plate])
    assert {p.turn_deg for p in packed([plate], 100.0, 40.0)} <= {60.0, 330.0}


def test_holes_do_not_matter() -> None:
    plate = box(0, 0, 50, 20).difference(Point(25, 10).buffer(5.0))
    assert all_rectangles([Body("plate", (plate,), 1, (0.0,))])


@pytest.mark.parametrize(
    "shape", [Polygon([(0, 0), (50, 0), (50, 20), (0, 21)]), Point(0, 0).buffer(10.0)]
)
def test_other_shapes_are_no_task_for_it(shape: Polygon) -> None:
    bodies = [*plates([(10.0, 10.0)]), Body("other", (shape,), 1, QUARTERS)]
    assert not all_rectangles(bodies)
    wanted = Counter({0: 1, 1: 1})
    assert pack_rectangles(bodies, wanted, box(0, 0, 99, 99), spacing_mm=1.0, seed=1) is None


def test_an_area_with_a_corner_missing_is_no_task_for_it() -> None:
    area = box(0, 0, 99, 99).difference(box(90, 90, 99, 99))
    assert (
        pack_rectangles(plates([(10.0, 10.0)]), Counter([0]), area, spacing_mm=1.0, seed=1) is None
    )


def test_the_same_seed_packs_the_same_way() -> None:
    bodies = plates([(10.0 + 7 * i % 31, 12.0 + 11 * i % 23) for i in range(20)])
    assert packed(bodies, 130.0, 90.0, 1.0) == packed(bodies, 130.0, 90.0, 1.0)
