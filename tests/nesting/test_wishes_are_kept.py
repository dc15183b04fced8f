"""What an order wants beyond quantities: urgency, kits, fixed places, fillers, mirroring."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from shapely import Polygon, box
from shapely.affinity import scale, translate

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.model import (
    Body,
    FixedPlace,
    Kit,
    Layouts,
    Placement,
    SheetLayout,
    SheetSize,
)
from kerfwright.nesting.nest import nest
from kerfwright.nesting.until import UNCONTROLLED, Control

BOARD = SheetSize("board", 120.0, 100.0, 3)


def plate(width_mm: float, height_mm: float, quantity: int, **wishes: object) -> Body:
    corners = box(0.0, 0.0, width_mm, height_mm)
    name = f"{width_mm:g} × {height_mm:g}"
    return Body(name, (corners,), quantity, (0.0, 90.0), **wishes)  # type: ignore[arg-type]


def laid_out(
    *bodies: Body, sheets: tuple[SheetSize, ...] = (BOARD,), control: Control = UNCONTROLLED
) -> Layouts:
    layouts = nest(
        bodies, sheets, spacing_mm=2.0, margin_mm=5.0, seconds=0.1, seed=1, control=control
    )
    assert check_layouts(bodies, layouts, spacing_mm=2.0, margin_mm=5.0) == ()
    return layouts


def counts(layouts: Layouts) -> list[Counter[int]]:
    return [Counter(p.body for p in layout.placements) for layout in layouts.sheets]


def test_what_is_urgent_gets_the_sheets_when_they_run_out() -> None:
    small_and_urgent = plate(30.0, 25.0, 8)
    layouts = laid_out(
        plate(100.0, 80.0, 1, rank=1), small_and_urgent, sheets=(replace(BOARD, count=1),)
    )
    assert layouts.unplaced == {0: 1}


def test_without_urgency_the_largest_goes_first() -> None:
    layouts = laid_out(
        plate(100.0, 80.0, 1), plate(30.0, 25.0, 8), sheets=(replace(BOARD, count=1),)
    )
    assert layouts.unplaced == {1: 8}


def test_what_is_urgent_lies_on_the_first_sheet() -> None:
    urgent, later = plate(50.0, 40.0, 2), plate(90.0, 85.0, 1, rank=1)
    layouts = laid_out(later, urgent)
    assert counts(layouts)[0][1] == 2


def test_a_set_is_never_divided_between_sheets() -> None:
    kit = Kit("box", 3)
    bodies = (plate(60.0, 50.0, 6, kit=kit), plate(40.0, 45.0, 3, kit=kit))
    for on_sheet in counts(laid_out(*bodies)):
        assert on_sheet[0] == 2 * on_sheet[1]


def test_a_set_that_finds_no_sheet_is_left_over_whole() -> None:
    kit = Kit("tower", 1)
    bodies = (plate(100.0, 80.0, 1, kit=kit), plate(60.0, 60.0, 1, kit=kit), plate(20.0, 20.0, 1))
    assert laid_out(*bodies).unplaced == {0: 1, 1: 1}


def test_the_check_notices_a_divided_kit() -> None:
    body = plate(20.0, 20.0, 2, kit=Kit("pair"))
    sheets = [SheetLayout(BOARD, (Placement(0, 0.0, 5.0, 5.0),), 400.0 / 12000.0)] * 2
    found = check_layouts([body], Layouts(tuple(sheets), {}), spacing_mm=2.0, margin_mm=5.0)
    assert found == tuple(f"sheet {n} holds a part of kit 'pair' only" for n in (1, 2))


def test_a_fixed_part_lies_where_it_must_and_others_round_it() -> None:
    fixed = plate(30.0, 30.0, 1, fixed=FixedPlace("board", 45.0, 35.0))
    layouts = laid_out(fixed, plate(25.0, 25.0, 8))
    (where,) = (p for p in layouts.sheets[0].placements if p.body == 0)
    assert (where.x_mm, where.y_mm) == pytest.approx((45.0, 35.0))
    assert len(layouts.sheets) == 1


def test_a_fixed_place_beyond_the_sheet_is_refused() -> None:
    with pytest.raises(KerfwrightError) as error:
        laid_out(plate(30.0, 30.0, 1, fixed=FixedPlace("board", 100.0, 35.0)))
    assert error.value.code == "nesting/place-taken"


def test_two_parts_for_one_place_are_refused() -> None:
    place = FixedPlace("board", 20.0, 20.0)
    with pytest.raises(KerfwrightError, match="overlap"):
        laid_out(plate(30.0, 30.0, 1, fixed=place), plate(40.0, 20.0, 1, fixed=place))


def test_the_check_notices_a_fixed_part_elsewhere() -> None:
    body = plate(20.0, 20.0, 1, fixed=FixedPlace("board", 45.0, 35.0))
    sheet = SheetLayout(BOARD, (Placement(0, 0.0, 5.0, 5.0),), 400.0 / 12000.0)
    (found,) = check_layouts([body], Layouts((sheet,), {}), spacing_mm=2.0, margin_mm=5.0)
    assert "not on the first 'board' at (45, 35)" in found


def test_fillers_take_what_room_is_left_and_begin_no_sheet() -> None:
    tokens = plate(20.0, 20.0, 1, extra=1000)
    layouts = laid_out(plate(70.0, 85.0, 1), tokens)
    assert len(layouts.sheets) == 1
    assert counts(layouts)[0][1] == 4


def test_fillers_stop_at_their_most() -> None:
    layouts = laid_out(plate(20.0, 20.0, 1, extra=3))
    assert counts(layouts)[0][0] == 4


def test_more_than_the_most_is_noticed() -> None:
    body = plate(20.0, 20.0, 1, extra=1)
    three = tuple(Placement(0, 0.0, 5.0 + 25.0 * i, 5.0) for i in range(3))
    sheet = SheetLayout(BOARD, three, 1200.0 / 12000.0)
    (found,) = check_layouts([body], Layouts((sheet,), {}), spacing_mm=2.0, margin_mm=5.0)
    assert "3 placed" in found


def test_a_part_that_may_be_turned_over_fits_the_mirror_image_of_itself() -> None:
    ell = Polygon([(0, 0), (80, 0), (80, 20), (20, 20), (20, 60), (0, 60)])
    offcut = translate(scale(ell, -1.0, 1.0).buffer(6.0, join_style="mitre"), 10.0, 10.0)
    sheet = SheetSize("offcut", 110.0, 90.0, 1, outline=offcut)
    turns = (0.0, 90.0, 180.0, 270.0)
    assert laid_out(Body("ell", (ell,), 1, turns), sheets=(sheet,)).unplaced == {0: 1}
    layouts = laid_out(Body("ell", (ell,), 1, turns, may_mirror=True), sheets=(sheet,))
    assert [p.mirrored for p in layouts.sheets[0].placements] == [True]


def test_mirroring_is_only_used_where_it_is_allowed() -> None:
    ess = Polygon([(0, 0), (40, 0), (40, 30), (60, 30), (60, 60), (20, 60), (20, 30), (0, 30)])
    for may_mirror in (False, True):
        body = Body("ess", (ess,), 9, (0.0, 90.0), may_mirror=may_mirror)
        layouts = laid_out(body)
        mirrored = [p for layout in layouts.sheets for p in layout.placements if p.mirrored]
        assert may_mirror or not mirrored
    fault = SheetLayout(BOARD, (Placement(0, 0.0, 70.0, 5.0, mirrored=True),), ess.area / 12000.0)
    body = Body("ess", (ess,), 1, (0.0,))
    (found,) = check_layouts([body], Layouts((fault,), {}), spacing_mm=2.0, margin_mm=5.0)
    assert "may not be laid mirrored" in found


def test_a_search_that_is_stopped_by_hand_keeps_a_legal_layout() -> None:
    layouts = laid_out(plate(30.0, 25.0, 20), control=Control(stop=lambda: True))
    assert layouts.stopped
    assert not layouts.unplaced


def test_a_fixed_part_may_lie_on_a_later_sheet() -> None:
    bodies = [
        plate(30.0, 30.0, 1, fixed=FixedPlace("board", 5.0, 5.0)),
        plate(30.0, 30.0, 1, fixed=FixedPlace("board", 45.0, 35.0, number=2)),
        plate(25.0, 25.0, 8),
    ]
    layouts = laid_out(*bodies)
    there = [{p.body: p for p in layout.placements} for layout in layouts.sheets]
    assert 0 in there[0]
    assert (there[1][1].x_mm, there[1][1].y_mm) == pytest.approx((45.0, 35.0))
    assert not layouts.unplaced


@pytest.mark.parametrize(("number", "words"), [(2, "nothing has a fixed place"), (99, "only")])
def test_a_fixed_place_on_a_sheet_that_is_not_there_is_refused(number: int, words: str) -> None:
    place = FixedPlace("board", 5.0, 5.0, number=number)
    with pytest.raises(KerfwrightError, match=words) as error:
        laid_out(plate(30.0, 30.0, 1, fixed=place))
    assert error.value.code == "nesting/place-taken"
