"""Several sheets, several sizes, and what is left over."""

from __future__ import annotations

import pytest
from shapely import box

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.fits import fits_any, smallest_size_mm
from kerfwright.nesting.left_over import Stock, why_unplaced
from kerfwright.nesting.model import Body, Layouts, SheetSize
from kerfwright.nesting.nest import nest

BIG = SheetSize("full sheet", 400.0, 300.0, 5)
SMALL = SheetSize("offcut", 120.0, 100.0, 2)


def rectangle(width_mm: float, height_mm: float, quantity: int = 1) -> Body:
    return Body(
        f"{width_mm:g} × {height_mm:g}",
        (box(0.0, 0.0, width_mm, height_mm),),
        quantity,
        (0.0, 90.0),
    )


def laid_out(*bodies: Body, sheets: tuple[SheetSize, ...]) -> Layouts:
    layouts = nest(bodies, sheets, spacing_mm=2.0, margin_mm=5.0, seconds=0.1, seed=1)
    assert check_layouts(bodies, layouts, spacing_mm=2.0, margin_mm=5.0) == ()
    return layouts


def names(layouts: Layouts) -> list[str]:
    return [layout.sheet.name for layout in layouts.sheets]


def test_little_goes_on_the_small_sheet() -> None:
    assert names(laid_out(rectangle(50.0, 40.0, 4), sheets=(BIG, SMALL))) == ["offcut"]


def test_much_goes_on_the_big_sheet() -> None:
    assert names(laid_out(rectangle(90.0, 60.0, 9), sheets=(SMALL, BIG))) == ["full sheet"]


def test_a_big_and_a_few_small_parts_need_a_big_sheet_only() -> None:
    layouts = laid_out(rectangle(300.0, 200.0), rectangle(30.0, 30.0, 3), sheets=(SMALL, BIG))
    assert names(layouts) == ["full sheet"]


def test_the_last_sheet_is_the_smallest_that_is_enough() -> None:
    layouts = laid_out(rectangle(380.0, 280.0), rectangle(80.0, 60.0), sheets=(BIG, SMALL))
    assert sorted(names(layouts)) == ["full sheet", "offcut"]


def test_sheets_run_out() -> None:
    bodies = [rectangle(100.0, 80.0, 5)]
    sheets = (SMALL,)
    layouts = laid_out(*bodies, sheets=sheets)
    assert layouts.unplaced == {0: 3}
    (left,) = why_unplaced(bodies, Stock("board", sheets, 2.0, 5.0), layouts)
    assert (left.body, left.count, left.reason) == (0, 3, "out-of-sheets")


def test_a_part_is_too_big() -> None:
    bodies = [rectangle(391.0, 20.0), rectangle(30.0, 20.0)]
    layouts = laid_out(*bodies, sheets=(SMALL, BIG))
    assert layouts.unplaced == {0: 1}
    (left,) = why_unplaced(bodies, Stock("board", (SMALL, BIG), 2.0, 5.0), layouts)
    assert left.reason == "part-too-big"
    assert (left.width_mm, left.height_mm) == pytest.approx((391.0, 20.0))


def test_no_sheets_at_all() -> None:
    assert laid_out(rectangle(10.0, 10.0, 2), sheets=()).unplaced == {0: 2}


def test_a_sheet_that_is_all_margin_takes_nothing() -> None:
    sheets = (SheetSize("strip of waste", 200.0, 9.0, 1),)
    assert laid_out(rectangle(1.0, 1.0), sheets=sheets).unplaced == {0: 1}


def test_the_same_size_listed_twice_counts_twice() -> None:
    layouts = nest(
        [rectangle(100.0, 80.0, 4)],
        (SMALL, SMALL),
        spacing_mm=2.0,
        margin_mm=5.0,
        seconds=0.1,
        seed=1,
    )
    assert len(layouts.sheets) == 4


def test_whether_a_part_fits_hangs_on_margin_and_turn() -> None:
    flat = Body("flat", (box(0.0, 0.0, 110.0, 90.0),), 1, (0.0,))
    turned = Body("upright", (box(0.0, 0.0, 90.0, 110.0),), 1, (0.0,))
    may_turn = Body("upright", (box(0.0, 0.0, 90.0, 110.0),), 1, (0.0, 90.0))
    assert fits_any(flat, [SMALL], margin_mm=5.0, spacing_mm=2.0)
    assert not fits_any(flat, [SMALL], margin_mm=5.001, spacing_mm=2.0)
    assert not fits_any(turned, [SMALL], margin_mm=5.0, spacing_mm=2.0)
    assert fits_any(may_turn, [SMALL], margin_mm=5.0, spacing_mm=2.0)
    assert not fits_any(
        flat, [SheetSize("none left", 500.0, 500.0, 0)], margin_mm=0.0, spacing_mm=2.0
    )


def test_the_smallest_box_is_over_the_allowed_turns() -> None:
    body = Body("square on a corner", (box(0.0, 0.0, 10.0, 10.0),), 1, (45.0, 0.0))
    assert smallest_size_mm(body) == pytest.approx((10.0, 10.0))
    only_corner = Body("square on a corner", (box(0.0, 0.0, 10.0, 10.0),), 1, (45.0,))
    assert smallest_size_mm(only_corner) == pytest.approx((200.0**0.5, 200.0**0.5))
